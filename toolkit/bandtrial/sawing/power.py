"""Energy of cutting: what the metal takes, and what the motor must give."""

from bandtrial.sawing.types import Numbers


def kienzle(kc11: Numbers, mc: Numbers, h: Numbers) -> Numbers:
    """Specific cutting force kc = kc1.1 h^-mc [N/mm2], h taken in mm inside.

    Source: Kienzle's law; kc1.1 is the force of a chip 1 mm thick and 1 mm wide.

    kc11 : kc1.1 [N/mm2]
    mc : exponent of the chip thickness [-]
    h : chip load [um]

    C45 steel, 0.02 mm:

    >>> kienzle(2220.0, 0.14, 20.0)
    3838.9
    """
    return kc11 * (h / 1000.0) ** -mc


def cutting_power(kc: Numbers, Z: Numbers, kerf: Numbers) -> Numbers:
    """Power at the teeth P = kc Z b / 600 [W]. Divide by the drive efficiency for the motor's share.

    kc [N/mm2] times the volume sawn, 100 Z b [mm3/min]; N mm/min is 1/60000 W.

    kc : specific cutting force [N/mm2]
    Z : cutting rate [cm2/min]
    kerf : width of the cut b [mm]

    >>> cutting_power(3000.0, 50.0, 1.2)
    300.0
    """
    return kc * Z * kerf / 600.0


def specific_cutting_energy(P: Numbers, Z: Numbers, kerf: Numbers) -> Numbers:
    """Energy per volume sawn e = 0.6 P / (Z b) [J/mm3]. Inverse of `cutting_power`; 1 J/mm3 is 1000 N/mm2.

    P : power at the teeth (motor power above idle x drive efficiency) [W]
    Z : cutting rate [cm2/min]
    kerf : width of the cut b [mm]

    >>> specific_cutting_energy(300.0, 50.0, 1.2)
    3.0
    """
    return 0.6 * P / (Z * kerf)
