"""The work-order feed: messages of the plant's own system are stored as they came, and the records follow from them.

Nothing is added up. The newest version of each order counts; what follows from it (installations, movements of stock, requests)
is compared with what is recorded and only the difference is booked. So any order of arrival, and any repetition, ends in the
same state.
"""
