"""The demand of positions: requests, lives and cover, pooled as the numbers that minimum stock needs."""
