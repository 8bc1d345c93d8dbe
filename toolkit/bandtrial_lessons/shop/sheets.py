"""The sheets of a shop are those of a study: what is known of a machine, a band stock and a material."""

from bandtrial.study.model import BandStock, Machine, Material

__all__ = ["BandStock", "Machine", "Material"]
