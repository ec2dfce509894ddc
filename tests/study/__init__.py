"""Studies: the form, the judgement, planning, standing, drift, sampling."""
