"""Why: a suspect and a trial in; out, the path of the current, the words and the weight of evidence."""

__all__: list[str] = []
