"""What may go on a position: the requirement, the candidates, what goes with them, and how soon the drive runs."""
