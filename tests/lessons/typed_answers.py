"""Answers as students type them: right ones in many spellings, and some that are none.

Our own collection, from what people wrote into the boxes and what they write on paper; no source.
"""

LETTER = ("{}", "({})", " {}. ", "[{}]", "answer {}", "Answer: {}", "option {}", "it's {}", "{}?", '"{}"',
          "{}, because of that", "{} - {words}", "{} ({words})")  # fmt: skip
ANY = ("{}", "  {}  ", "{name} = {}", "{name}={}", "{name}: {}", "{name}1 = {}", "= {}", "~{}", "about {}",
       "approx. {}", "{}.", "{} ?", "({})", "{name} is {}", "the answer is {}", "{} or so", "{}, I think", "ratio → {}",
       "\u200b{}", "{} (rounded)")  # fmt: skip
"""Around the answer as it is shown."""
NAMES = {"time": "T", "speed": "V", "feed_rate": "F", "number": "n"}
BY_KIND = {
    "number": ((1.0, "{:.4g}x"), (1.0, "{:.4g} times"), (1.0, "{:.4g} times as much"), (1.0, "{:.4g} teeth"),
               (1.0, "{:.4g} teeth in the cut"), (1.0, "factor {:.4g}"), (1.0, "{:.4g}-fold"), (1.0, "{:.4g} [-]"),
               (1.0, "{:.4g}:1"), (100.0, "{:.4g} %"), (100.0, "{:.4g} percent"), (100.0, "{:.4g}/100")),
    "percent": ((100.0, "{:.3g}%"), (100.0, "{:.3g}"), (100.0, "{:.3g} percent"), (100.0, "{:.3g} per cent"),
                (100.0, "{:.3g} % of its life"), (100.0, "keeps {:.3g} %"), (1.0, "{:.3g}"), (100.0, "{:.3g}/100"),
                (1.0, "{:.3g} of its life")),
    "time": ((1.0, "{:.3f}"), (1.0, "T={:.3f}"), (1.0, "{:.3f} m"), (1.0, "{:.3f}'"), (1.0, "{:.3f} mins."),
             (1.0, "{:.3f} min of cutting"), (1 / 60, "{:.4f} h"), (60.0, "{:.0f} s"), (1e-3, "{:.5f} x 10^3 min"),
             (1.0, "{:,.1f} min")),
    "speed": ((1.0, "{:.4g} m/min"), (1.0, "{:.4g} m per minute"), (1.0, "{:.4g} metres/min"), (1.0, "{:.4g} mpm"),
              (1 / 0.3048, "{:.4g} fpm"), (1 / 0.3048, "{:.4g} ft per min"), (1 / 60, "{:.4g} m/s")),
    "feed_rate": ((1.0, "{:.4g} mm/min"), (1.0, "{:.4g} mm per minute"), (1 / 25.4, "{:.4g} ipm"),
                  (1 / 25.4, '{:.4g}"/min')),
    "chip_load": ((1.0, "{:.4g} um"), (1.0, "{:.4g} µm per tooth"), (1.0, "{:.4g} microns"), (1e-3, "{:.4g} mm"),
                  (1 / 25.4, "{:.4g} thou"), (1e-3 / 25.4, '{:.5f}"'), (1.0, "{:.4g} x 10^-3 mm")),
    "pitch": ((1.0, "{:g}"), (1.0, "{:g} teeth"), (1.0, "{:g} TPI"), (1.0, "{:g} per inch"), (1.0, "{:g}-pitch"),
              (1.0, "the {:g}")),
    "length": ((1.0, "{:.5g} mm"), (0.1, "{:.5g} cm"), (1 / 25.4, '{:.5g}"'), (1 / 25.4, "{:.5g} inches")),
    "force": ((1.0, "{:.4g} N"), (1e-3, "{:.4g} kN"), (1 / 4.44822, "{:.4g} lbs"),
              (1 / 4.44822, "{:.4g} pounds force")),
    "power": ((1.0, "{:.4g} W"), (1e-3, "{:.4g} kW"), (1 / 745.70, "{:.4g} h.p."), (1.0, "{:.4g} watts")),
    "cost": ((1.0, "{:.4g} EUR/cm2"), (1.0, "€{:.4g}/cm²"), (1.0, "{:.4g} euro per cm2"), (1.0, "{:.4g} eur / sq cm"),
             (1.0, "{:.4g} per cm^2"), (100.0, "{:.4g} ct/cm2"), (6.4516, "{:.4g} EUR per square inch")),
}  # fmt: skip
"""Kind -> what the answer's inside value is multiplied by, and how it is then written."""
NONE = ("log(2)/log(3)", "2 + 2", "half", "?", "", "1e999", "kitten")


def spellings(question):
    """(answer as it may be typed, whether it is right)."""
    shown = str(question.shown(question.expected))
    if question.by_letter:
        words = question.choices[shown]
        yield from ((one.format(shown.upper(), words=words), True) for one in LETTER)
        yield from ((words, True), (words.casefold()[:-1], True), ("none", False), ("7", False), ("", False))
        return
    yield from ((one.format(shown, name=NAMES.get(question.kind, "x")), True) for one in ANY)
    number, unit = shown.split(" ", 1) if " " in shown else (shown, "")
    yield from ((f"{number}{unit}", True), (f"{number}e0 {unit}", True))
    yield f"{number.replace('.', ',')} {unit}", True
    yield from ((written.format(factor * float(question.expected)), True) for factor, written in BY_KIND[question.kind])
    yield from ((one, False) for one in (*NONE, f"{number} mm2"))
