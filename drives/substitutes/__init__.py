"""What may go on a position: the requirement, the candidates, what goes with them, and how soon the drive runs."""

from drives.substitutes.answer import Answer, Offer, substitutes_for_item, substitutes_for_position

__all__ = ["Answer", "Offer", "substitutes_for_item", "substitutes_for_position"]
