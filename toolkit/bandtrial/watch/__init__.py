"""The watch: how much each band in service has left, and whether something has changed."""

from bandtrial.watch.charts import Alarm, alarms
from bandtrial.watch.record import Score, keep
from bandtrial.watch.state import BandState, Watch, watch

__all__ = ["Alarm", "BandState", "Score", "Watch", "alarms", "keep", "watch"]
