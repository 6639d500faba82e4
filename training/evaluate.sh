#!/usr/bin/env bash
# Scores the whole program out of fold: each recording is measured by models that saw no recording of
# its patient, then `phren score` compares all of them with the experts' labels.
#
# Usage: training/evaluate.sh PHREN DATA_FOLDER FOLDS_FOLDER [phren measure options, e.g. --fast]
# FOLDS_FOLDER holds 0 .. 4, each a model folder: trees from `training/trees.py --folds`, the network of
# the fold as recording_network.bin, and decision.json. Leaves FOLDS_FOLDER/predictions.jsonl.
set -euo pipefail
phren=$1 data=$2 folds=$3
shift 3
out=$folds/predictions.jsonl
duplicate=41279835_14.1_0_p1_2945 # also among the official test recordings: never used
: > "$out"
for fold in 0 1 2 3 4; do
  files=()
  while IFS=, read -r name of; do
    [ "$of" = "$fold" ] && [ "$name" != "$duplicate" ] && files+=("$data/audio/$name.flac")
  done < <(tail -n +2 "$data/recordings.csv" | awk -F, '{print $1 "," $NF}' | tr -d '\r')
  PHREN_MODEL=$folds/$fold "$phren" measure --json --events "$data/events.csv" "$@" "${files[@]}" >> "$out"
done
grep -v "^$duplicate," "$data/recordings.csv" > "$folds/recordings.csv"
"$phren" score "$out" --recordings "$folds/recordings.csv" --events "$data/events.csv"
