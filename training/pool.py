"""Runs groups of trainings: one worker process per accelerator, one queue of groups, one deadline."""
import os
import time
import traceback

import numpy as np
import torch
import torch.multiprocessing as mp


def work(rank, device, folder, raw, jobs, results, deadline):
    torch.set_num_threads(4)
    import data as D
    import train as T
    if device != "cpu":
        torch.cuda.set_device(device)
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    data = D.Data(folder, raw, device, int(os.environ.get("EVERY", "1")))
    say = lambda text: print(f"    [{rank}] {text}", flush=True)
    while True:
        group = jobs.get()
        if group is None:
            return
        name = group["name"]
        if time.time() + group.get("expect", 30) > deadline:
            results.put((name, None, "no time left"))
            continue
        try:
            trainers = []
            for job in group["jobs"]:
                kw = dict(job["kw"])
                if job.get("soft"):
                    s = np.load(job["soft"])
                    kw["soft"] = {k: torch.tensor(s[k], dtype=torch.float32, device=device) for k in s.files}
                trainers.append(T.Trainer(data, job["held"], **kw))
            seconds = T.train_together(trainers, deadline, say)
            if seconds is None:
                results.put((name, None, "stopped at the deadline"))
                continue
            out, states = [], []
            for t, job in zip(trainers, group["jobs"]):
                index = np.where(np.isin(data.folds, job["predict"]))[0]
                out.append(T.predict(t.net, data, index, t.front) if len(index) else {})
                states.append({k: v.cpu().numpy() for k, v in t.net.state_dict().items()} if job.get("keep") else None)
            merged = {i: v for o in out for i, v in o.items()}
            note = T.summary(data, merged) if merged else {}
            note["seconds"], note["steps"] = seconds, sum(t.steps for t in trainers)
            results.put((name, (out, states, note), None))
            del trainers
            if device != "cpu":
                torch.cuda.empty_cache()
        except Exception:
            results.put((name, None, traceback.format_exc()))


class Pool:
    def __init__(self, folder, deadline, per_card=1, raw="/tmp/a.raw"):
        import data as D
        D.unpack(folder, raw)
        self.deadline = deadline
        c = mp.get_context("spawn")
        self.jobs, self.results = c.Queue(), c.Queue()
        cards = max(torch.cuda.device_count(), 1)
        kind = "cuda:{}" if torch.cuda.is_available() else "cpu"
        self.workers = [c.Process(target=work, daemon=True, args=(i, kind.format(i % cards), folder, raw, self.jobs,
                                                                  self.results, deadline))
                        for i in range(cards * per_card)]
        for w in self.workers:
            w.start()

    def run(self, groups, on_result=None):
        """Runs groups, prints a line for each as it ends, returns {name: (predictions, weights, note)}."""
        done, failures = {}, 0
        for g in groups:
            self.jobs.put(g)
        for _ in groups:
            try:
                name, value, error = self.results.get(timeout=max(self.deadline + 30 - time.time(), 1))
            except Exception:
                print("gave up waiting", flush=True)
                break
            if error:
                print(name, "FAILED", error[-1800:], flush=True)
                failures += "Traceback" in error
                if failures >= 3:
                    break
                continue
            done[name], note = value, value[2]
            text = " ".join(f"{k} {v['SE']:.3f}/{v['SP']:.3f}/{v['Score']:.4f}" for k, v in note.items() if k[1:2] == "-")
            ece = " ".join(f"{e:.3f}" for e in note.get("ece", ()))
            print(f"{name:16s} {note['seconds']:4.0f}s {note['steps']}st {text} ece {ece}", flush=True)
            if on_result:
                on_result(name, value)
        return done

    def close(self):
        for _ in self.workers:
            self.jobs.put(None)
        for w in self.workers:
            w.join(timeout=3)
            if w.is_alive():
                w.terminate()
