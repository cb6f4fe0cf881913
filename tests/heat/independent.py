"""The same first law by other means: fourth-order Runge-Kutta on explicit rates of change.

The equation of state is somebody else's: GERG-2008 of pyaga8 for any mix, or CoolProp's air of
Lemmon et al. (2000).
"""

from __future__ import annotations

import CoolProp
import pyaga8

BAR = 1e5


class Aga:
    """GERG-2008 of pyaga8 (kPa, mol/L inside) for one mix of O2, He, N2, Ar."""

    def __init__(self, fractions):
        self.model, gas = pyaga8.Gerg2008(), pyaga8.Composition()
        gas.oxygen, gas.helium, gas.nitrogen, gas.argon = (float(x) for x in fractions)
        self.model.set_composition(gas)

    def at(self, kelvin, pascal):
        """Return density [mol/m3], u and h [J/mol] at a pressure."""
        self.model.temperature, self.model.pressure = float(kelvin), float(pascal) / 1e3
        self.model.calc_density(0)
        self.model.calc_properties()
        return self.model.d * 1e3, self.model.u, self.model.h

    def dense(self, kelvin, density):
        """Return pressure [Pa], u [J/mol] and cv [J/(mol K)] at a density."""
        self.model.temperature, self.model.d = float(kelvin), float(density) / 1e3
        self.model.calc_properties()
        return self.model.calc_pressure() * 1e3, self.model.u, self.model.cv


class Air:
    """CoolProp's air: E. W. Lemmon et al., J. Phys. Chem. Ref. Data 29 (2000) 331-385."""

    def __init__(self):
        self.state = CoolProp.AbstractState("HEOS", "Air")

    def at(self, kelvin, pascal):
        self.state.update(CoolProp.PT_INPUTS, pascal, kelvin)
        return self.state.rhomolar(), self.state.umolar(), self.state.hmolar()

    def dense(self, kelvin, density):
        self.state.update(CoolProp.DmolarT_INPUTS, density, kelvin)
        return self.state.p(), self.state.umolar(), self.state.cvmolar()


def adiabatic_from_bank(start, feed, made, volume, kelvin, from_pa, to_pa, bank_pa):
    """Temperature after n2 u2 - n1 u1 = h (n2 - n1), by halving; `made(n1, n2)` is the mixture."""
    density, u1, _ = start.at(kelvin, from_pa)
    n1, h = density * volume, feed.at(kelvin, bank_pa)[2]

    def left_over(hot):
        n2 = to_pa * volume / (8.314462618 * hot)
        for _ in range(60):  # the mixture depends on the amount
            n2 = made(n1, n2).at(hot, to_pa)[0] * volume
        return n2 * made(n1, n2).at(hot, to_pa)[1] - n1 * u1 - h * (n2 - n1)

    return halved(left_over, kelvin - 20.0, 499.0)


def halved(function, low, high):
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) < 0.0 else (low, middle)
    return low


def runge_kutta(rate, values, seconds, steps):
    """Return the values at the end; `rate(time, values)` gives their slopes."""
    d = seconds / steps
    for k in range(steps):
        t = k * d
        a = rate(t, values)
        b = rate(t + d / 2, [v + d / 2 * s for v, s in zip(values, a, strict=True)])
        c = rate(t + d / 2, [v + d / 2 * s for v, s in zip(values, b, strict=True)])
        e = rate(t + d, [v + d * s for v, s in zip(values, c, strict=True)])
        slopes = zip(values, a, b, c, e, strict=True)
        values = [v + d / 6 * (p + 2 * q + 2 * r + s) for v, p, q, r, s in slopes]
    return values


class Cylinder:
    """A cylinder of one gas, its supply at the cylinder's pressure and the room's temperature."""

    def __init__(self, gas, volume, capacity, inside, outside, room, from_pa):
        self.gas, self.volume, self.room = gas, volume, room
        self.capacity, self.inside, self.outside = capacity, inside, outside
        self.warm, self.wall, self.pascal = room, room, from_pa
        self.moles = gas.at(room, from_pa)[0] * volume

    def wall_rate(self, warm, wall):
        heat = self.inside * (warm - wall) - self.outside * (wall - self.room)
        return heat / self.capacity

    def fill(self, to_pa, seconds, steps=400):
        start, rise = self.pascal, (to_pa - self.pascal) / seconds

        def rate(t, values):
            warm, wall = values
            pascal = start + rise * t
            density, u, _ = self.gas.at(warm, pascal)
            more, less = self.gas.at(warm, pascal + 1e3), self.gas.at(warm, pascal - 1e3)
            hot, cold = self.gas.at(warm + 0.05, pascal), self.gas.at(warm - 0.05, pascal)
            gain = self.gas.at(self.room, pascal)[2] - u
            n = density * self.volume
            density_p, u_p = ((more[k] - less[k]) / 2e3 for k in (0, 1))
            density_t, u_t = ((hot[k] - cold[k]) / 0.1 for k in (0, 1))
            brought = (gain * self.volume * density_p - n * u_p) * rise
            lost = self.inside * (warm - wall)
            slope = (brought - lost) / (n * u_t - gain * self.volume * density_t)
            return [slope, self.wall_rate(warm, wall)]

        self.warm, self.wall = runge_kutta(rate, [self.warm, self.wall], seconds, steps)
        self.pascal = to_pa
        self.moles = self.gas.at(self.warm, to_pa)[0] * self.volume

    def rest(self, seconds, steps=400):
        def rate(_, values):
            warm, wall = values
            capacity = self.moles * self.gas.dense(warm, self.moles / self.volume)[2]
            return [-self.inside * (warm - wall) / capacity, self.wall_rate(warm, wall)]

        self.warm, self.wall = runge_kutta(rate, [self.warm, self.wall], seconds, steps)
        self.pascal = self.gas.dense(self.warm, self.moles / self.volume)[0]
