"""The bench: one contour saw on which every choice has a consequence, and a tooth in its work to look at.

`setting`  what can be chosen
`saw`      what then happens: numbers, signs, life, price
`picture`  the tooth in the work and the cost over speed, as drawings that need no kernel to move
`panel`    all of it under one's hands
"""

from bandtrial_lessons.bench.saw import BenchCut, BenchSaw, Sign
from bandtrial_lessons.bench.setting import BenchSetting, BenchWork

__all__ = ["BenchCut", "BenchSaw", "BenchSetting", "BenchWork", "Sign"]
