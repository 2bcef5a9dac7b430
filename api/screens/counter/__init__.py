"""What the storeroom does on the pages: acts, the job in hand, the shift."""
