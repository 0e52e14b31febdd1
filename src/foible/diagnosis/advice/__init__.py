"""What to do next: a belief in, the trial to make, the item to act on, the card or the proof out."""

__all__: list[str] = []
