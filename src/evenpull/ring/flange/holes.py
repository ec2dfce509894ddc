from __future__ import annotations
import numpy as np
from evenpull.ring.flange.loads import half_angle
from evenpull.ring.case import BearingFace

PARAMS = dict(hoop=1.0, shear=1.0, whole=1.0, ax=0.0, tr=0.0, tt=0.0)

def stiffness_left(case, flange):
    n=case.bolts.count; r_b=case.bolts.bolt_circle/2
    d = flange.end.d_h if isinstance(flange.end, BearingFace) else None
    def share(r, z):
        if d is None:
            one=np.ones_like(r); return one, one, one
        left = 1 - n*half_angle(r, r_b, d/2)/np.pi
        return left**PARAMS['whole'], left**PARAMS['hoop'], left**PARAMS['shear']
    return share

def local_compliance(case, flange):
    if not isinstance(flange.end, BearingFace): return np.zeros((3,3))
    d_w=flange.end.d_w
    return np.diag([PARAMS['ax']/(flange.E*d_w), PARAMS['tr']/(flange.E*d_w**3), PARAMS['tt']/(flange.E*d_w**3)])
