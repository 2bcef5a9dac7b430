"""Files in and out: read a file, check every cell, write what is new or changed."""
