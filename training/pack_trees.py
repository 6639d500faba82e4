#!/usr/bin/env python3
"""Writes boosted trees as the small file that the program reads (layout below, and in training/README.md).

Usage: pack_trees.py MODEL.ubj OUT.bin [--classes 7]     (needs python3-xgboost, python3-numpy)

"PHRENTR1", uint32 CRC-32 of what follows, uint16 classes, uint16 features, uint32 trees, uint32 nodes, float32 base; then for each tree
uint16 its number of nodes and uint8 its class; then, node by node, uint8 feature (255: a leaf); then for each inner node uint16
left child within the tree (the right one is the next), float32 threshold (x < threshold goes left; not a number goes where the first bit
of the next byte says), uint8 missing goes left; then for every node float32: a leaf's value, an inner node's mean over the training data.
"""
import argparse
import json
import os
import tempfile
import zlib

import numpy as np
import xgboost


def pack(path, classes):
    booster = xgboost.Booster()
    booster.load_model(path)
    with tempfile.TemporaryDirectory() as folder:
        name = os.path.join(folder, "model.json")
        booster.save_model(name)
        learner = json.load(open(name))["learner"]
    model = learner["gradient_booster"]["model"]
    base = float(learner["learner_model_param"]["base_score"])
    if learner["objective"]["name"] == "binary:logistic":
        base = float(np.log(base / (1 - base)))
    heads, features, lefts, thresholds, missing, values = [], [], [], [], [], []
    for tree, group in zip(model["trees"], model["tree_info"]):
        left, right = tree["left_children"], tree["right_children"]
        order, place = [0], {0: 0}  # children side by side
        for node in order:
            if left[node] >= 0:
                for child in (left[node], right[node]):
                    place[child] = len(order)
                    order.append(child)
        mean = [0.0] * len(left)
        for node in reversed(order):
            h = tree["sum_hessian"]
            mean[node] = tree["split_conditions"][node] if left[node] < 0 else (
                (mean[left[node]] * h[left[node]] + mean[right[node]] * h[right[node]]) / (h[left[node]] + h[right[node]]))
        heads.append((len(order), group))
        for node in order:
            inner = left[node] >= 0
            features.append(tree["split_indices"][node] if inner else 255)
            values.append(mean[node])
            if inner:
                assert right[node] in place and place[right[node]] == place[left[node]] + 1
                lefts.append(place[left[node]])
                thresholds.append(tree["split_conditions"][node])
                missing.append(tree["default_left"][node])
    body = np.array([classes, int(learner["learner_model_param"]["num_feature"])], "<u2").tobytes()
    body += np.array([len(heads), len(features)], "<u4").tobytes() + np.array([base], "<f4").tobytes()
    body += b"".join(np.array([n], "<u2").tobytes() + bytes([g]) for n, g in heads)
    body += bytes(features) + np.array(lefts, "<u2").tobytes() + np.array(thresholds, "<f4").tobytes() + bytes(missing)
    body += np.array(values, "<f4").tobytes()
    return b"PHRENTR1" + np.array([zlib.crc32(body)], "<u4").tobytes() + body


if __name__ == "__main__":
    p = argparse.ArgumentParser()
    p.add_argument("model")
    p.add_argument("out")
    p.add_argument("--classes", type=int, default=7)
    a = p.parse_args()
    data = pack(a.model, a.classes)
    open(a.out, "wb").write(data)
    print(a.out, len(data), "bytes,", len(zlib.compress(data, 9)), "compressed")
