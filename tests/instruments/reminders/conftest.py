"""The invented plant of recall, for reminders too."""

from tests.instruments.recall.conftest import bench, lathe, make_gauge, model, people, turning

__all__ = ["bench", "lathe", "make_gauge", "model", "people", "turning"]
