"""Normal distribution function and its logarithm, by scipy.special; prints the values used in src/causes/normal.rs."""
import scipy
from scipy.special import log_ndtr, ndtr

print("scipy", scipy.__version__)
for z in (-8.0, -3.0, -0.66, -0.3, 0.0, 0.5, 2.5):
    print(z, repr(float(ndtr(z))))
for z in (-40.0, -1.5):
    print(z, repr(float(log_ndtr(z))))
