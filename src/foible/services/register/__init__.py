"""The register as an armourer uses it: kinds, names and limits from the kit and the rules, kept through the records."""

__all__: list[str] = []
