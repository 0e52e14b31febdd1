"""Why: a suspect and a trial in, the way of the current, the words and the weight of evidence out."""

__all__: list[str] = []
