"""Runs many trainings side by side: several worker processes per accelerator, one queue of jobs, one deadline."""
import os
import pickle
import sys
import time
import traceback

import numpy as np
import torch
import torch.multiprocessing as mp


def work(rank, device, folder, raw, jobs, results, deadline):
    torch.set_num_threads(1)
    import data as D
    import train as T
    data = D.Data(folder, raw, device, limit=int(os.environ.get("LIMIT", "0")) or None)
    while True:
        job = jobs.get()
        if job is None:
            return
        if time.time() + job.get("expect", 30) > deadline:
            results.put((job["name"], None, "no time left"))
            continue
        try:
            kw = dict(job["kw"])
            if job.get("soft"):
                s = np.load(job["soft"])
                kw["soft"] = {k: torch.tensor(s[k], dtype=torch.float32, device=device) for k in s.files}
            t = T.Trainer(data, job["held"], **kw)
            net = t.run()
            index = np.where(np.isin(data.folds, job["predict"]))[0]
            out = T.predict(net, data, index, t.front) if len(index) else {}
            note = T.summary(data, out) if len(index) else {}
            note["seconds"], note["steps"] = t.seconds, t.steps
            state = {k: v.cpu().numpy() for k, v in net.state_dict().items()} if job.get("keep") else None
            results.put((job["name"], (out, state, note), None))
            del t, net
        except Exception:
            results.put((job["name"], None, traceback.format_exc()))


class Pool:
    def __init__(self, folder, workers, deadline, raw="/tmp/a.raw"):
        import data as D
        D.unpack(folder, raw)
        self.deadline = deadline
        c = mp.get_context("spawn")
        self.jobs, self.results = c.Queue(), c.Queue()
        cards = max(torch.cuda.device_count(), 1)
        kind = "cuda:{}" if torch.cuda.is_available() else "cpu"
        self.workers = [c.Process(target=work, args=(i, kind.format(i % cards), folder, raw, self.jobs, self.results,
                                                     deadline), daemon=True) for i in range(workers * cards)]
        for w in self.workers:
            w.start()

    def run(self, jobs):
        """Runs jobs, prints a line for each as it ends, returns {name: (predictions, weights, note)}."""
        done = {}
        for j in jobs:
            self.jobs.put(j)
        for _ in jobs:
            left = self.deadline + 45 - time.time()
            try:
                name, value, error = self.results.get(timeout=max(left, 1))
            except Exception:
                print("gave up waiting", flush=True)
                break
            if error:
                print(name, "FAILED", error[-1500:], flush=True)
                continue
            done[name] = value
            note = value[2]
            text = " ".join(f"{k} {v['SE']:.3f}/{v['SP']:.3f}/{v['Score']:.4f}" for k, v in note.items() if k[1:2] == "-")
            print(f"{name:34s} {note['seconds']:5.0f}s {note['steps']}it {text} ece {note.get('ece')}", flush=True)
        return done

    def close(self):
        for _ in self.workers:
            self.jobs.put(None)
        for w in self.workers:
            w.join(timeout=3)
            if w.is_alive():
                w.terminate()


def save(path, value):
    with open(path, "wb") as f:
        pickle.dump(value, f, protocol=4)
