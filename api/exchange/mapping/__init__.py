"""Files as plants and other systems write them: their headings, codes, dates and units, mapped to the columns of a kind."""
