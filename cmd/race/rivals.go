//go:build linux

package main

// kmeansPy clusters raw float32 Lab values, reading not counted.
const kmeansPy = `import json, sys, time
import numpy as np
from sklearn.cluster import KMeans
x = np.fromfile(sys.argv[1], dtype=np.float32).reshape(-1, 3)
t = time.perf_counter()
m = KMeans(n_clusters=12, n_init=1, random_state=1).fit(x)
print(json.dumps({"Seconds": time.perf_counter() - t, "Pixels": len(x), "Labs": m.cluster_centers_.tolist()}))
`

// mixesPy finds, for each triple of tubes and white and each aim, amounts of
// any size: by NNLS so that the mix's K/S is the aim's at each wavelength, or
// from there by SLSQP on the difference of Lab. It stops after half a minute and
// says how many triples it did.
const mixesPy = `import itertools, json, sys, time
import numpy as np
from scipy.optimize import minimize, nnls
d = json.load(open(sys.argv[1]))
K, S, weights, white = (np.array(d[k]) for k in ("K", "S", "Weights", "White"))
k1, k2 = d["K1"], d["K2"]
def lab(c):
    q = (c @ Kt) / (c @ St)
    r = 1 + q - np.sqrt(q * q + 2 * q)
    r = k1 + (1 - k1) * (1 - k2) * r / (1 - k2 * r)
    t = (weights @ r) / white
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])
n = len(K)
triples = list(itertools.combinations(range(1, n), 3))
np.random.default_rng(1).shuffle(triples)
best = [(np.inf, None)] * len(d["Aims"])
start = time.perf_counter()
done = 0
for triple in triples:
    use = [0, *triple]
    Kt, St = K[use], S[use]
    for a, (aim, spectrum) in enumerate(zip(d["Aims"], d["Spectra"])):
        r = np.array(spectrum)
        r = (r - k1) / ((1 - k1) * (1 - k2) + k2 * (r - k1))
        q = (1 - r) ** 2 / (2 * r)
        A = np.vstack([(Kt - q * St).T, 1e3 * np.ones(4)])
        c, _ = nnls(A, np.append(np.zeros(len(q)), 1e3))
        if sys.argv[2] == "slsqp":
            f = lambda c: np.sum((lab(c) - aim) ** 2)
            m = minimize(f, np.clip(c, 1e-3, 1), method="SLSQP", bounds=[(0, 1)] * 4, constraints={"type": "eq", "fun": lambda c: c.sum() - 1})
            c = np.clip(m.x, 0, 1)
        e = np.sum((lab(c) - aim) ** 2)
        if e < best[a][0]:
            best[a] = (e, [{"Tube": int(t), "Parts": float(v)} for t, v in zip(use, c) if v > 1e-6])
    done += 1
    if time.perf_counter() - start > 30:
        break
print(json.dumps({"Seconds": time.perf_counter() - start, "Done": done, "All": len(triples), "Mixes": [b[1] for b in best]}))
`
