<CsoundSynthesizer>
<CsOptions>
-n -d -m0
</CsOptions>
<CsInstruments>
; The same counts as bench/acoustics_graph.dsp.
sr = 48000
ksmps = 128
nchnls = 1
0dbfs = 1
gisine ftgen 1, 0, 16384, 10, 1
gaair init 0
gachest init 0
garoom init 0
instr 1 ; lung
  an rand 0.1
  af rbjeq an, 240 + 4 * p4, 1, 0.72, 1, 0
  ap tone af, 700 + 9 * p4
  gachest += ap
endin
instr 2 ; windpipe
  an rand 0.1
  af rbjeq an, 1080, 1, 0.54, 1, 0
  ag rbjeq af, 1080, 1, 1.3, 1, 0
  gaair += ag
endin
instr 3 ; room
  an rand 0.1
  af rbjeq an, 60 + 200 * p4, 1, 0.6, 1, 0
  garoom += af
endin
instr 4 ; tone
  a1 oscili 0.1, 300 + 20 * p4, 1
  a2 oscili 0.01, 600 + 40 * p4, 1
  gachest += a1 + a2
endin
instr 5 ; way
  af rbjeq gaair, 140 + 100 * p4, 1, 1.9, 1, 0
  ap tone af, 600 + 50 * p4
  gachest += ap
endin
instr 9
  aw tone gachest, 900
  as = aw + garoom
  ah rbjeq as, 95, 1, 0.71, 1, 2
  al rbjeq ah, 1600, 1, 0.71, 1, 0
  am rbjeq al, 3000, 1, 0.71, 1, 0
  out am
  gaair = 0
  gachest = 0
  garoom = 0
endin
</CsInstruments>
<CsScore>
{ 24 i
i 1 0 $SECONDS $i
i 4 0 $SECONDS $i
}
{ 8 i
i 2 0 $SECONDS $i
i 3 0 $SECONDS $i
i 5 0 $SECONDS $i
}
i 9 0 $SECONDS
e
</CsScore>
</CsoundSynthesizer>
