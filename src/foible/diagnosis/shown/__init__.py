"""What a failure makes visible: hypotheses in; out, lamps, readings and signs under each of them."""

__all__: list[str] = []
