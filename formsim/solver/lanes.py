"""Where the values of points that are worked out side by side live in one flat array.

Value ``ROW`` of point ``lane`` is ``w[ROW + lane]``. Distances between rows are known when
compiling, so nothing has to be proved about overlaps, and loops over points become vector code.

| rows | meaning | unit |
|---|---|---|
| `F11 ... FT`, `VOLUME` | deformation gradient (1 along, 2 across the sheet, hoop) | -, mm3 |
| `OLD1 ... OLD3`, `EP` | plastic strain modes and equivalent plastic strain so far | - |
| `M`, `P`, `S`, `C` | metric variables, see `stress.py` | - |
| `X`, `H`, `H1`, `H2` | argument, value and slopes of `curves.log_ratio` | - |
| `X0 ... X3` | trial stress modes | MPa |
| `R1 ... R3` | stress over trial stress | - |
| `FLOW`, `DEP` | flow factor, plastic increment | 1/MPa, - |
| `SY`, `SLOPE`, `CELL`, `Y0 ... S1` | yield stress, its slope, rows of the flow table | MPa |
| `LOAD`, `WAITS` | trial stress over yield stress; 1 where the return mapping goes on | - |
| `STORED` | elastic energy, negative where there is no answer | MPa |
| `NEW1 ... NEW_EP` | plastic strains after | - |
| `SM ... SC`, `DMM ... DCC` | derivatives of the energy over (m, p, s, c) | MPa |
| `P11 ... PT`, `A11_11 ... AT_T` | the same over the gradient, times the volume | N mm |
| `WARM`, `PER_TIME` | factor of temperature, one over the time of the increment | -, 1/s |
"""

from __future__ import annotations

VECTOR = 8
"""Lanes are worked on in multiples of this: the doubles of the widest register."""

LANES = 32
"""Points side by side: a few registers hide each other's waiting, more would leave the cache."""

ROWS = 79
(
    F11, F12, F21, F22, FT, VOLUME, OLD1, OLD2, OLD3, EP,
    M, P, S, C, INV_M, INV_DET, X, H, H1, H2,
    X0, X1, X2, X3, R1, R2, R3, FLOW, DEP, SY, SLOPE, CELL, Y0, S0, Y1, S1, LOAD, WAITS, STORED,
    NEW1, NEW2, NEW3, NEW_EP, SM, SP, SS, SC,
    DMM, DMP, DMS, DMC, DPP, DPS, DPC, DSS, DSC, DCC,
    P11, P12, P21, P22, PT,
    A11_11, A11_12, A11_21, A11_22, A11_T, A12_12, A12_21, A12_22, A12_T,
    A21_21, A21_22, A21_T, A22_22, A22_T, AT_T, WARM, PER_TIME,
) = range(0, ROWS * LANES, LANES)  # fmt: skip

SIZE = ROWS * LANES
