"""Programs held against the drawings before they leave."""

from cutplan.verification.model import (
    Fault,
    Verdict,
)

__all__ = [
    "Fault",
    "Verdict",
]
