"""The work-order feed: what the plant's own system tells, kept as it came, and the state that follows from it.

Nothing here adds up. Every message is kept, the newest version of each order counts, and what it brings about (lives at
positions, movements of stock, requests) is compared with what is booked and the difference booked. So any order of
arrival, and any repetition, ends in the same state.
"""
