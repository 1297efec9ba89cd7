#!/usr/bin/env python3
"""Five stacks of library materials through `tileglow coupon` and through SciPy's BDF: python3 compare.py PROGRAM MATERIALS.json [TILE_US]

The reference is written from the equations alone: cell-centred finite volumes on uniform cells in each layer, conductances in series
by the harmonic mean, temperatures as unknowns. Agreement within 0.5 K at every output and peak, else exit 1. Prints the time of
each, SciPy also at the tolerance and grid that hold about 0.5 K, as the pair for the batch solver's benchmark: over TILE_US, the
microseconds of one of its tiles, that is the paired ratio.
Needs the packages of tests/data/stiff/requirements.txt."""
import json, math, pathlib, subprocess, sys, tempfile, time
import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags

PROGRAM, MATERIALS = sys.argv[1], json.loads(pathlib.Path(sys.argv[2]).read_text())["materials"]
SIGMA = 5.670374419e-8
LIBRARY = {m["id"]: m for m in MATERIALS}
# tile, thickness m, peak flux W/m2, structure, its thickness m, back
STACKS = [
    ("li-900", 0.050, 1.0e5, "al-2024", 0.0020, {"kind": "adiabatic"}),
    ("li-2200", 0.035, 2.0e5, "al-2024", 0.0030, {"kind": "convection", "h_w_m2k": 4, "ambient_k": 295}),
    ("frci-12", 0.060, 3.0e5, "ti-6al-4v", 0.0015, {"kind": "radiation", "emissivity": 0.5, "surroundings_k": 290}),
    ("aetb-8", 0.040, 0.6e5, "al-2024", 0.0016, {"kind": "adiabatic"}),
    ("afrsi", 0.025, 0.2e5, "al-2024", 0.0020, {"kind": "adiabatic"}),
]
TIMES, FLUX = [0, 300, 700, 900, 1100, 1500, 1800], [0.02, 0.5, 1.0, 0.85, 0.9, 0.2, 0.0]
P_TIMES, PRESSURE = [0, 600, 1200, 1800, 2200], [2, 20, 900, 9000, 101325]
OUTPUT = list(range(100, 6001, 100))


def case(stack):
    tile, thickness, flux, metal, skin, back = stack
    layers = [("tile", tile, thickness), ("bond", "rtv-560", 0.0002), ("pad", "sip", 0.0041), ("bond-2", "rtv-560", 0.0002), ("skin", metal, skin)]
    return {
        "format": "tileglow-coupon/1", "name": tile,
        "layers": [{"name": n, "material": m, "thickness_m": t} for n, m, t in layers],
        "initial_k": 295, "pressure_pa": {"time_s": P_TIMES, "value": PRESSURE},
        "front": {"kind": "heating", "cold_wall_w_m2": {"time_s": TIMES, "value": [flux * f for f in FLUX]}, "recovery_enthalpy_j_kg": None,
                  "emissivity": 0.85, "surroundings_k": 280},
        "back": back, "duration_s": 6000,
        "probes": [{"name": "surface", "depth_m": 0}, {"name": "bondline", "depth_m": thickness}, {"name": "structure", "depth_m": thickness + 0.0045 + skin}],
        "output_times_s": OUTPUT}


def table(value):
    if isinstance(value, (int, float)):
        return lambda t: np.full_like(t, value)
    return lambda t: np.interp(t, value["temperature_k"], value["value"])


def conductivity(value):
    if not isinstance(value, dict) or "pressure_pa" not in value:
        flat = table(value)
        return lambda t, p: flat(t)
    logs, axis, rows = np.log(value["pressure_pa"]), value["temperature_k"], value["value"]

    def k(t, p):
        x = min(max(math.log(p), logs[0]), logs[-1])
        i = min(int(np.searchsorted(logs, x, "right")) - 1, len(logs) - 2)
        w = (x - logs[i]) / (logs[i + 1] - logs[i])
        return (1 - w) * np.interp(t, axis, rows[i]) + w * np.interp(t, axis, rows[i + 1])
    return k


def reference(case, per_layer, rtol, atol):
    dx, slices, heats, conducts, density = [], [], [], [], []
    for layer, cells in zip(case["layers"], per_layer):
        m = LIBRARY[layer["material"]]
        slices.append(slice(len(dx), len(dx) + cells))
        dx += [layer["thickness_m"] / cells] * cells
        density += [m["density_kg_m3"]] * cells
        heats.append(table(m["specific_heat_j_kgk"]))
        conducts.append(conductivity(m["conductivity_w_mk"]))
    dx, density = np.array(dx), np.array(density)
    flux, back = case["front"]["cold_wall_w_m2"], case["back"]
    emissivity, far = case["front"]["emissivity"], case["front"]["surroundings_k"]

    def fields(time_s, t):
        p = np.interp(time_s, P_TIMES, PRESSURE)
        k, c = np.empty_like(t), np.empty_like(t)
        for s, heat, conduct in zip(slices, heats, conducts):
            k[s], c[s] = conduct(t[s], p), heat(t[s])
        return k, c

    def face(time_s, t0, k0):
        """The surface's temperature from its own balance: what comes in is what the first half-cell takes."""
        q, g = np.interp(time_s, flux["time_s"], flux["value"]), 2 * k0 / dx[0]
        ts = t0
        for _ in range(30):
            f = q + emissivity * SIGMA * (far**4 - ts**4) - g * (ts - t0)
            step = f / (4 * emissivity * SIGMA * ts**3 + g)
            ts += step
            if abs(step) < 1e-10:
                break
        return ts, g * (ts - t0)

    def rate(time_s, t):
        k, c = fields(time_s, t)
        resistance = dx / (2 * k)
        q = np.zeros(len(t) + 1)
        q[1:-1] = (t[:-1] - t[1:]) / (resistance[:-1] + resistance[1:])
        q[0] = face(time_s, t[0], k[0])[1]
        if back["kind"] == "convection":
            q[-1] = (t[-1] - back["ambient_k"]) / (1 / back["h_w_m2k"] + resistance[-1])
        elif back["kind"] == "radiation":
            q[-1] = back["emissivity"] * SIGMA * (t[-1] ** 4 - back["surroundings_k"] ** 4)
        return (q[:-1] - q[1:]) / (density * c * dx)

    n = len(dx)
    sparsity = diags([1, 1, 1], [-1, 0, 1], shape=(n, n))
    began = time.perf_counter()
    y, values, at = np.full(n, float(case["initial_k"])), [], sorted({*TIMES, *P_TIMES, case["duration_s"]})
    for a, b in zip(at[:-1], at[1:]):
        want = [t for t in OUTPUT if a < t <= b]
        out = solve_ivp(rate, (a, b), y, "BDF", t_eval=sorted({*want, b}), rtol=rtol, atol=atol, jac_sparsity=sparsity)
        y = out.y[:, -1]
        values += [(t, out.y[:, i]) for i, t in enumerate(out.t) if t in want]
    took = time.perf_counter() - began
    tile_end, structure = slices[0].stop, n - 1
    rows = []
    for t, v in values:
        k, _ = fields(t, v)
        r = dx / (2 * k)
        bond = (v[tile_end - 1] / r[tile_end - 1] + v[tile_end] / r[tile_end]) / (1 / r[tile_end - 1] + 1 / r[tile_end])
        rows.append([face(t, v[0], k[0])[0], bond, v[structure]])
    return np.array(rows), took


worst, pairs = 0.0, []
for stack in STACKS:
    made = case(stack)
    fine, fine_took = reference(made, (240, 3, 24, 3, 3), 1e-7, 1e-6)
    loose, loose_took = reference(made, (60, 1, 6, 1, 1), 2e-4, 2e-2)
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder, "case.json")
        path.write_text(json.dumps(made))
        began = time.perf_counter()
        got = json.loads(subprocess.run([PROGRAM, "coupon", str(path)], check=True, capture_output=True, text=True).stdout)
        took = time.perf_counter() - began
    mine = np.array([probe["temperature_k"] for probe in got["probes"]]).T
    apart = np.abs(mine - fine).max(axis=0)
    worst = max(worst, apart.max())
    pairs.append((loose_took, np.abs(loose - fine).max()))
    print(f"{made['name']:8} largest difference surface {apart[0]:.3f}, bondline {apart[1]:.3f}, structure {apart[2]:.3f} K"
          f" (stated {got['numerical_error_k']:.3f}); coupon {took:.2f} s, SciPy {fine_took:.2f} s;"
          f" SciPy at {np.abs(loose - fine).max():.2f} K {loose_took * 1e3:.0f} ms")
print(f"largest difference {worst:.3f} K")
if len(sys.argv) > 3:
    tile_s = 1e-6 * float(sys.argv[3])
    ratios = ", ".join(f"{took / tile_s:,.0f} (at {error:.2f} K)" for took, error in pairs)
    print(f"SciPy's time over that of a tile of the batch ({1e6 * tile_s:.0f} us at a stated error of at most 1 K), by stack: {ratios}")
sys.exit(1 if worst > 0.5 else 0)
