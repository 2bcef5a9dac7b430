#!/usr/bin/env python3
"""The commands of this service: `python manage.py help` lists them."""

from api.command_line import main

if __name__ == "__main__":
    main()
