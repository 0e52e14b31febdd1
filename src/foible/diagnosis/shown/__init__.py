"""What a failure makes visible: hypotheses in, lamps, readings and signs under each of them out."""

__all__: list[str] = []
