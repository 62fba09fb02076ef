"""A rear linkage as MuJoCo sees it: bodies, hinges and sites; its statics from MuJoCo's own Jacobians and weights."""

from __future__ import annotations

import mujoco
import numpy as np
from scipy.optimize import brentq


def _at(point, origin=(0.0, 0.0)):
    return f"{point[0] - origin[0]:.12g} 0 {point[1] - origin[1]:.12g}"


class Mechanism:
    """Swingarm and rocker hinged, the rod a fixed distance between two sites, the shock a pair of forces.

    `points` are [x, z] in m, keyed pivot, axle, top, rocker, near, foot, far, and `on`, what carries the rocker; a
    linkage without a rocker has pivot, axle, top and foot alone. `masses` are (kg, [x, z]) fixed to the swingarm.
    """

    def __init__(self, points, masses=(), gravity=0.0):
        self.points, self.on, self.linked = points, points.get("on"), "rocker" in points
        self.model = mujoco.MjModel.from_xml_string(self._xml(masses, gravity))
        self.data = mujoco.MjData(self.model)
        self._place([0.0] * self.model.nq)
        self.rod = self._apart("near", "far") if self.linked else None

    def _xml(self, masses, gravity):
        at, pivot = self.points, self.points["pivot"]
        weights = "".join(
            f'<body pos="{_at(where, pivot)}"><inertial pos="0 0 0" mass="{kg}" diaginertia="1e-6 1e-6 1e-6"/></body>'
            for kg, where in masses
        )
        arm = f'<site name="axle" pos="{_at(at["axle"], pivot)}"/>{weights}'
        frame = f'<site name="top" pos="{_at(at["top"])}"/>'
        if self.linked:
            centre = at["rocker"]
            holder = pivot if self.on == "swingarm" else (0.0, 0.0)
            rocker = (
                f'<body pos="{_at(centre, holder)}"><joint name="rocker" axis="0 1 0"/>'
                '<inertial pos="0 0 0" mass="1e-9" diaginertia="1e-9 1e-9 1e-9"/>'
                f'<site name="near" pos="{_at(at["near"], centre)}"/>'
                f'<site name="foot" pos="{_at(at["foot"], centre)}"/>'
                "</body>"
            )
            if self.on == "swingarm":
                arm, frame = arm + rocker, frame + f'<site name="far" pos="{_at(at["far"])}"/>'
            else:
                arm, frame = arm + f'<site name="far" pos="{_at(at["far"], pivot)}"/>', frame + rocker
        else:
            arm += f'<site name="foot" pos="{_at(at["foot"], pivot)}"/>'
        return (
            f'<mujoco><option gravity="0 0 -{gravity}"/><worldbody>{frame}<body pos="{_at(pivot)}">'
            '<joint name="arm" axis="0 1 0"/><inertial pos="0 0 0" mass="1e-9" diaginertia="1e-9 1e-9 1e-9"/>'
            f"{arm}</body></worldbody></mujoco>"
        )

    def _place(self, angles):
        for name, angle in zip(("arm", "rocker"), angles, strict=False):
            self.data.joint(name).qpos[0] = angle
        mujoco.mj_forward(self.model, self.data)

    def _apart(self, one, other):
        return float(np.linalg.norm(self.data.site(one).xpos - self.data.site(other).xpos))

    def raise_axle(self, travel):
        """Turn the swingarm until its axle is `travel` (m) higher, and the rocker until the rod fits."""
        drawn, at_rest = self.points["axle"][1], [0.0] * (self.model.nq - 1)

        def height(angle):
            self._place([angle, *at_rest])
            return self.data.site("axle").xpos[2] - drawn - travel

        arm = brentq(height, -0.6, 0.6, xtol=1e-14)
        if not self.linked:
            self._place([arm])
            return

        def misfit(angle):
            self._place([arm, angle])
            return self._apart("near", "far") - self.rod

        # From the angle as drawn outwards: the nearest crossing is the branch that the mechanism stays on.
        for reach in np.linspace(0.02, 1.5, 75):
            for low, high in ((-reach, -reach + 0.02), (reach - 0.02, reach)):
                if misfit(low) * misfit(high) <= 0:
                    self._place([arm, brentq(misfit, low, high, xtol=1e-14)])
                    return
        raise ValueError(travel)

    @property
    def shock(self):
        """The shock's length, m."""
        return self._apart("top", "foot")

    def _pair(self, one, other):
        """Return the generalized force of a unit push along the line from `one` to `other`, both ends felt."""
        total = np.zeros(self.model.nv)
        towards = (self.data.site(other).xpos - self.data.site(one).xpos) / self._apart(one, other)
        for name, sign in ((other, 1), (one, -1)):
            jacobian = np.zeros((3, self.model.nv))
            mujoco.mj_jacSite(self.model, self.data, jacobian, None, self.data.site(name).id)
            total += sign * jacobian.T @ towards
        return total

    def shock_force(self, contact_n):
        """Return what the shock pushes with (N) under an upward force (N) at the axle and the bodies' own weight."""
        lift = np.zeros((3, self.model.nv))
        mujoco.mj_jacSite(self.model, self.data, lift, None, self.data.site("axle").id)
        # At rest MuJoCo's bias force is the weight's, with the sign of what must be applied to hold it up.
        unbalanced = contact_n * lift[2] - self.data.qfrc_bias
        columns = [self._pair("top", "foot")] + ([self._pair("far", "near")] if self.linked else [])
        return float(np.linalg.solve(np.stack(columns, axis=1), -unbalanced)[0])
