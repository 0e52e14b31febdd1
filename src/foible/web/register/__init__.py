"""The pages and the API of the register."""

__all__: list[str] = []
