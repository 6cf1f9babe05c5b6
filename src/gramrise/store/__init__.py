"""Floor 3: tables, migrations, queries; the only place that speaks SQL."""

from gramrise.store.store import Store

__all__ = ["Store"]
