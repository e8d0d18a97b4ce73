"""Fits and calibrates the models; needs the ``train`` extra. No room imports it."""
