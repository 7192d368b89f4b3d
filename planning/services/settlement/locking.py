"""One write of a co-op's settlement after the other."""

from uuid import UUID

from planning.services.derived import lock


def lock_settlement(co_op_id: UUID) -> None:
    """To the end of the transaction; taken before any row of the settlement is."""
    lock(f"settlement of co-op {co_op_id}")
