"""Drawings: each takes the axes to draw on and gives them back; units on every axis, data always visible."""
