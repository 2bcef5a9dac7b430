"""What the positions ask for: requests, lives and cover, pooled, as the numbers that minimum stock needs."""
