"""Administration pages; installations and inspections are written by the service record alone."""

from drives.admin import demand, drive, feed, history, plant
