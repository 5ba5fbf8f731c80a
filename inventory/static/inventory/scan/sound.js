// What a scan did, for ears and hands: a crew member need not look at the phone.

// "mind" begins like "done", for it is written, and ends like "ask".
const TONES = {
  done: [880], here: [660, 880], ask: [440, 440], refused: [220], kept: [440, 220],
  mind: [880, 440, 440], away: [220, 165],
};
// Every second figure is a pause.
const BUZZES = {
  done: [60], here: [40, 40, 40], ask: [120, 60, 120], refused: [400], kept: [60, 60, 240],
  mind: [60, 60, 120, 60, 120], away: [400, 120, 400],
};
const GRAVEST = ["refused", "ask", "mind", "done", "here"];
// Each mode sounds higher or lower and buzzes longer or shorter than the others.
const PITCH = {
  look: 1, "put-away": 1.15, order: 1.3, market: 1.5,
  back: 0.85, discard: 0.65, count: 1.75, tag: 2,
};
const TONE_S = 0.12;
const STEP_S = 0.15;

// What several labels of one photo sound like.
export function gravest(results) {
  return GRAVEST.find((result) => results.includes(result));
}

// The tones of a result in Hz, one after the other.
export function tones(mode, result) {
  return (TONES[result] ?? []).map((hertz) => hertz * PITCH[mode]);
}

// The buzzes of a result in ms, with the pauses between them, as navigator.vibrate takes them.
export function buzzes(mode, result) {
  return (BUZZES[result] ?? []).map((length) => Math.round(length / PITCH[mode]));
}

export function play(sound, hertz) {
  hertz.forEach((height, number) => {
    const tone = sound.createOscillator();
    tone.frequency.value = height;
    tone.connect(sound.destination);
    tone.start(sound.currentTime + number * STEP_S);
    tone.stop(sound.currentTime + number * STEP_S + TONE_S);
  });
}
