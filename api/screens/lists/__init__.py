"""Lists for looking around: filtered and ordered as in the API, and taken along as a file."""
