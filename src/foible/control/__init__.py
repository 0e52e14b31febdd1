"""The arithmetic of weapon control: whether a reading conforms, in which order tests find most, when the queue will be gone."""

__all__: list[str] = []
