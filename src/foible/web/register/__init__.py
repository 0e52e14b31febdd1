"""The pages of the register. A search, an item, a job card, the queue and the parts each have a module of their own."""

__all__: list[str] = []
