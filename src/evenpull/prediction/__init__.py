"""A bolted ring predicted: ring file, procedures, the load of every bolt after every pull.

ring TOML --read_prediction--> Prediction --predict--> RingResult: what each procedure leaves
"""

from evenpull.prediction.model import Prediction
from evenpull.prediction.predict import ProcedureOutcome, RingResult, predict
from evenpull.prediction.procedures import Asked, RingProcedure, RingPull, make_procedure
from evenpull.prediction.read import read_prediction, read_prediction_file

__all__ = [
    "Asked", "Prediction", "ProcedureOutcome", "RingProcedure", "RingPull", "RingResult", "make_procedure", "predict",
    "read_prediction", "read_prediction_file",
]  # fmt: skip
