"""How long the program takes to the end of a case, beside an earlier one."""

__all__: list[str] = []
