"""Logarithm of the upper quadrant P(X > h, Y > k), h = -a and k = -b, with |h| nearly |k|: of opposite sign with a strong negative correlation, or of one with a positive.

Run with Python 3 and mpmath; writes nearly_equal.csv beside itself. The integral is that of corner.py.
"""
import os
import mpmath
from corner import log_quadrant

here = os.path.dirname(os.path.abspath(__file__))

if __name__ == "__main__":
    with open(os.path.join(here, "nearly_equal.csv"), "w") as out:
        out.write(f"# mpmath {mpmath.__version__}, 30 digits; nearly_equal.py beside this file; no random numbers\n")
        out.write("a,b,r,log_probability\n")
        opposite = [("-5.5", "5.51"), ("-5.6", "5.605"), ("-6", "6.3"), ("-8", "8.01"), ("-12", "12.003"), ("-30", "30.002")]
        opposite += [("-5.51", "5.5"), ("-8.01", "8"), ("-6.3", "6"), ("-5.6", "5.6001"), ("-5.6", "5.600001"), ("-8", "8.000001")]
        for a, b in opposite + [("-5.5", "-5.51"), ("-8", "-8.01"), ("-30", "-30.002")]:
            for size in ("0.999999", "0.9999", "0.999", "0.99", "0.97"):
                r = size if mpmath.mpf(a) * mpmath.mpf(b) > 0 else "-" + size
                value = log_quadrant("%s" % -mpmath.mpf(a), "%s" % -mpmath.mpf(b), r)
                out.write(f"{a},{b},{r},{mpmath.nstr(value, 17)}\n")
