"""Forty invented small shops, each as its people would write it down: a machine, a band, a metal, some cuts.

Every shop is what differs from `PLAIN`; `folder_of` writes its study folder.
"""

from pathlib import Path

PLAIN = {
    "units": "us",
    "machine": 'kind = "horizontal"\nfeed = "force"\nband_length = "93 in"\n'
               'band_speeds = ["80 ft/min", "120 ft/min", "160 ft/min", "200 ft/min"]',
    "stock": 'pitch = "6/10 tpi"\nedge = "bimetal"\nprice = 32',
    "material": 'group = "A36"',
    "bands": "B1,s,,,in_service",
    "heads": "cut,band,material,work_thickness [in],cut_travel [in],band_speed [ft/min],feed_force [lbf],cut_time [s]",
    "cuts": ["1,B1,m,2,4,120,20,3:10", "2,B1,m,2,4,120,20,3:14", "3,B1,M,2,4,120,,3:12"],
    "start": "2 in",
}  # fmt: skip
VERTICAL = ('kind = "vertical"\nfeed = "hand"\nband_length = "12 ft - 4 in"\nthroat = "14 in"\n'
            'band_speed_ranges = [["50 ft/min", "300 ft/min"], ["800 ft/min", "5000 ft/min"]]')  # fmt: skip
HAND = "cut,band,material,work_thickness [in],cut_travel [in],band_speed [ft/min],cut_time [min]"
AREA = "cut,band,material,cut_area [in2],band_speed [ft/min],cut_time [min]"
ROUND = "cut,band,material,diameter [in],band_speed [ft/min],cut_time [min]"
MORE = ("cut,band,material,section,work_thickness [in],cut_travel [in],diameter [in],wall [in],cut_area [in2],stacked,"
        "band_speed [ft/min],cut_time [min],rewelded,pieces")  # fmt: skip
METRIC = {
    "units": "metric",
    "machine": 'kind = "horizontal"\nfeed = "force"\nband_length = "2,75 m"\n'
               'band_speed_ranges = [["20 m/min", "90 m/min"]]',
    "heads": "cut;band;material;diameter [mm];band_speed [m/min];cut_time [min]",
    "cuts": ["1;B1;m;60,5;40;2,5", "2;B1;m;60,5;40;2,6", "3;B1;m;60,5;;2,6"],
    "start": "60 mm",
}  # fmt: skip

SHOPS: dict[str, dict] = {
    "weight feed, A36": {},
    "weight feed, alloy steel": {"material": 'group = "alloy steel"'},
    "weight feed, machine steel": {"material": 'group = "machine steel"'},
    "weight feed, tool steel": {"material": 'group = "tool steel"\nname = "who knows, from the rack"'},
    "weight feed, 1018 CRS": {"material": 'group = "1018 CRS"'},
    "weight feed, 12L14": {"material": 'group = "12L14"'},
    "weight feed, ss 304": {"material": 'group = "ss 304"'},
    "weight feed, Inconel 718": {"material": 'group = "Inconel 718"'},
    "weight feed, 4140 HT": {"material": 'group = "4140 HT"'},
    "weight feed, hardness alone": {"material": 'hardness = "280 HB"'},
    "weight feed, a name that nobody knows": {"material": 'group = "navy gun barrel"\nstart_speed = "70 ft/min"'},
    "weight feed, nothing known": {"material": 'name = "scrap"'},
    "hand feed, 6061-T6": {"machine": VERTICAL, "material": 'group = "6061-T6"', "heads": HAND,
                           "cuts": ["1,B1,m,1,6,3000,0.5", "2,B1,m,1,6,3000,0.6", "3,B1,m,1.5,6,3000,0.8"]},
    "hand feed, brass": {"machine": VERTICAL, "material": 'group = "brass"', "heads": HAND,
                         "cuts": ["1,B1,m,1,4,200,1.1", "2,B1,m,1,4,250,0:55", "3,B1,m,1,4,?,1:02"]},
    "hand feed, nylon": {"machine": VERTICAL, "material": 'group = "nylon"', "heads": HAND,
                         "cuts": ["1,B1,m,2,6,1000,0.3", "2,B1,m,2,6,1000,0.3", "3,B1,m,2,6,1000,0.35"]},
    "hand feed, zinc": {"machine": VERTICAL, "material": 'group = "zinc"', "heads": HAND,
                        "cuts": ["1,B1,m,1,5,290,0.8", "2,B1,m,1,5,290,0.9"]},
    "hand feed, micarta, own speed": {"machine": VERTICAL, "material": 'group = "Micarta"\nstart_speed = "1500 ft/min"',
                                      "heads": HAND, "cuts": ["1,B1,m,.75,9,1500,0.6"], "start": "3/4 in"},
    "hand feed, time and area only": {"machine": VERTICAL, "heads": AREA,
                                      "cuts": ["1,B1,m,9,200,4:30", "2,B1,m,9.5,200,4:50", "3,B1,m,9,200,4:41"]},
    "hand feed, a third of the speeds unknown": {
        "machine": VERTICAL, "heads": HAND,
        "cuts": ["1,B1,m,1,4,200,2", "2,B1,m,1,4,,2.1", "3,B1,m,1,4,200,2", "4,B1,m,1,4,n/a,2.2", "5,B1,m,1,4,200,2",
                 "6,B1,m,1,4,200,2.1"]},
    "one pulley": {"machine": 'kind="horizontal"\nfeed="force"\nband_length="64 in"\nband_speeds=["100 ft/min"]',
                   "heads": "cut,band,material,diameter [in],cut_time [min]",
                   "cuts": ["1,B1,m,2,3:05", "2,B1,m,2,3:20"]},
    "rounds": {"heads": ROUND, "cuts": ["1,B1,m,2 1/2,120,4:10", "2,B1,m,2.5,120,4:18", "3,B1,m,1-1/4,120,1:02"]},
    "square tube": {"heads": MORE, "cuts": ["1,B1,m,square tube,,,2,.12,,,160,0:41,,12",
                                            "2,B1,m,sq,2,2,,,,,160,1:50,,2"], "start": "1/8 in"},
    "angle and channel": {"heads": MORE, "cuts": ["1,B1,m,angle iron,3,3,,1/4,,,160,0:52,,4",
                                                  "2,B1,m,channel,6,2,,1/4,,,160,1:20,,4"], "start": "1/4 in"},
    "I-beams by their area": {"heads": MORE, "cuts": ["1,B1,m,I-beam,,8,,,7.61,,160,4:30,,2",
                                                      "2,B1,m,beam,,10,,,9.12,,160,5:20,,2"], "start": "0.4 in"},
    "hex bar": {"heads": MORE, "cuts": ["1,B1,m,hex,,,1,,,,160,0:50,,20"], "start": "1 in"},
    "a bundle of rounds": {"heads": MORE, "cuts": ["1,B1,m,round,,2,1,,,6,160,4:10,,1",
                                                   "2,B1,m,round,,2,1,,,6,160,4:16,,1"]},
    "stacked sheets": {"machine": VERTICAL, "heads": MORE, "cuts": ["1,B1,m,sheet,1/8,12,,,,8,200,6:00,,1"],
                       "start": "1 in"},
    "a hole from inside": {"machine": VERTICAL, "heads": MORE,
                           "cuts": ["1,B1,m,hole,1,,5,,,,200,7:50,yes,1", "2,B1,m,hole,1,22,,,,,200,11:00,yes,1"]},
    "a band rewelded": {"heads": MORE, "cuts": ["1,B1,m,,2,4,,,,,120,3:10,,1", "2,B1,m,,2,4,,,,,120,3:15,weld broke,1",
                                                "3,B1,m,,2,4,,,,,120,3:12,,1"]},
    "a casting": {"material": 'group = "cast iron"', "heads": MORE,
                  "cuts": ["1,B1,m,casting,,3,,,11,,120,5:10,,1", "2,B1,m,casting,,3,,,11,,120,5:25,,1"]},
    "metric, C45": METRIC | {"material": 'group = "C45"'},
    "metric, S235": METRIC | {"material": 'group = "S235JR"'},
    "metric, 1.4301": METRIC | {"material": 'group = "1.4301"'},
    "metric, 42CrMo4 +QT": METRIC | {"material": 'group = "42CrMo4+QT"'},
    "metric, 16MnCr5, hours": METRIC | {"material": 'group = "16MnCr5"',
                                        "cuts": ["1;B1;m;80;40;4:30", "2;B1;m;80;40;4:41"], "start": "80 mm"},
    "metric, GG25": METRIC | {"material": 'group = "GG25"'},
    "exclude says no": {"heads": PLAIN["heads"] + ",exclude",
                        "cuts": ["1,B1,m,2,4,120,20,3:10,no", "2,B1,m,2,4,120,20,3:14,FALSE",
                                 "3,B1,m,2,4,120,20,3:12,0"]},
    "feet and inches": {"heads": HAND, "machine": VERTICAL, "material": 'group = "7075-T6"',
                        "cuts": ["1,B1,m,1,\"5'-6\"\"\",3000,3:30", "2,B1,m,1,\"1'-2\"\"\",3000,0:45"]},
    "names in any case": {"cuts": ["1,b1,M,2,4,120,20,3:10", "2,B1, m ,2,4,120,20,3:14", "3,B1,m,2,4,120,20,3:12"]},
    "a display name": {"material": 'name = "A36 bar"\ngroup = "A36"', "cuts": ["1,B1,A36 bar,2,4,120,20,3:10"]},
}  # fmt: skip


def folder_of(place: Path, shop: dict) -> Path:
    """The study folder of a shop, as its people would have typed it."""
    s = PLAIN | shop
    place.mkdir()
    (place / "study.toml").write_text(
        f'[study]\nunits = "{s["units"]}"\n\n[costs]\nmachine_and_labor_per_hour = 60\nband_change_minutes = 10\n'
        f"scrapped_piece = 5\n\n[machines.saw]\n{s['machine']}\n\n[band_stock.s]\n{s['stock']}\n\n[materials.m]\n"
        f"{s['material']}\n",
        encoding="utf-8",
    )
    (place / "bands.csv").write_text(f"band,stock,fitted,removed,end\n{s['bands']}\n", encoding="utf-8")
    (place / "cuts.csv").write_text("\n".join([s["heads"], *s["cuts"], ""]), encoding="utf-8")
    return place
