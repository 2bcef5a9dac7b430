"""Webhooks: subscribers, signed deliveries of events, retries."""
