"""What to do next: a belief in; out, the trial to make, the item to act on, the card or the proof."""

__all__: list[str] = []
