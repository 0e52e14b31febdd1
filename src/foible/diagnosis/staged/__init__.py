"""Kit with something wrong in it, staged: a trial in; out, what it shows, as a case file says it."""

from foible.diagnosis.staged.kit import Answer, StagedFault, StagedKit

__all__ = ["Answer", "StagedFault", "StagedKit"]
