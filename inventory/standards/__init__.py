"""Published dimensions and tooth geometry: chains, keys, bushes, hubs, fits and nominal sizes."""
