"""The home page by role: what needs its reader today."""
