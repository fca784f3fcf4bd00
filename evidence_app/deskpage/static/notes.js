// A spoken note's loudness over time, made in the browser; a touch on it goes there.
"use strict";
(() => {
  const draw = async (canvas) => {
    if (canvas.dataset.drawn) return;
    canvas.dataset.drawn = "1";
    const answer = await fetch(canvas.dataset.sound);
    if (!answer.ok) return;
    const rate = new OfflineAudioContext(1, 1, 16000);
    const sound = await rate.decodeAudioData(await answer.arrayBuffer()).catch(() => null);
    if (!sound) return;
    const samples = sound.getChannelData(0);
    const width = canvas.width = canvas.clientWidth, height = canvas.height = canvas.clientHeight;
    const pen = canvas.getContext("2d"), a = samples.length / width;
    pen.fillStyle = getComputedStyle(document.documentElement).getPropertyValue("--wave");
    for (let x = 0; x < width; x++) {
      let most = 0;
      for (let i = Math.floor(x * a); i < (x + 1) * a && i < samples.length; i++) most = Math.max(most, Math.abs(samples[i]));
      pen.fillRect(x, height / 2 - most * height / 2, 1, Math.max(1, most * height));
    }
  };
  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) if (entry.isIntersecting) draw(entry.target);
  });
  const find = (where) => {
    for (const canvas of where.querySelectorAll("canvas.wave")) seen.observe(canvas);
  };
  document.addEventListener("click", (event) => {
    const canvas = event.target.closest("canvas.wave");
    if (!canvas) return;
    const audio = canvas.parentElement.querySelector("audio");
    const share = event.offsetX / canvas.clientWidth;
    const go = () => { audio.currentTime = share * audio.duration; audio.play(); };
    if (audio.readyState) go();
    else { audio.addEventListener("loadedmetadata", go, { once: true }); audio.load(); }
  });
  document.addEventListener("shown", (event) => find(event.detail));
  find(document);
})();
