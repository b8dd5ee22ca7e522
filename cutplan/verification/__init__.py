"""Programs held against the drawings before they leave."""

from cutplan.verification.model import FAULT_CODES, Fault, Verdict
from cutplan.verification.proof import offcuts, skeleton, verify

__all__ = ["FAULT_CODES", "Fault", "Verdict", "offcuts", "skeleton", "verify"]
