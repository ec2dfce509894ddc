"""A bolted ring predicted: ring file, procedures, the load of every bolt after every pull.

ring TOML --read_prediction--> Prediction --predict--> what each procedure leaves
"""
