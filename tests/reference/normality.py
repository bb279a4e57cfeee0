"""Anderson-Darling statistic and tail probability. Python 3, scipy 1.17.1, statsmodels 0.15.0. Run here: python3 normality.py > normality.csv"""
import numpy as np
from statsmodels.stats.diagnostic import normal_ad
values = np.loadtxt("../published/rosner-1983/values.csv", skiprows=1)
print("test,key,value")
for n in [8, 20, 40, 54]:
    statistic, p = normal_ad(values[:n])
    print(f"anderson-{n},statistic,{float(statistic)!r}\nanderson-{n},p,{float(p)!r}")
