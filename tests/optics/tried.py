"""What the laws are tried over: ranges a photographer meets."""

from hypothesis import strategies as st

F_NUMBERS = st.floats(1.0, 64.0)
MAGNIFICATIONS = st.floats(0.01, 10.0)
PUPILS = st.floats(0.2, 3.0)
FOCALS = st.floats(10.0, 600.0)
COCS = st.floats(0.003, 0.06)
WAVELENGTHS = st.floats(0.4, 0.7)
