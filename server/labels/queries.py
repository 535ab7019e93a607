"""Reads of the labels that were printed."""

from collections.abc import Sequence

from sqlmodel import col, select

from server.data.session import LabSession
from server.labels.models import PrintedLabel


def list_printed_labels(session: LabSession) -> Sequence[PrintedLabel]:
    """Oldest first."""
    return session.exec(select(PrintedLabel).order_by(col(PrintedLabel.id))).all()


def find_last_printed(session: LabSession) -> PrintedLabel | None:
    return session.exec(select(PrintedLabel).order_by(col(PrintedLabel.id).desc()).limit(1)).first()
