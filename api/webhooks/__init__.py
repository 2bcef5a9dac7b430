"""Events on their way out: subscribers, signed deliveries, retries, dead letters."""
