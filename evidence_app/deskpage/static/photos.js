// The viewer: nearer at the pointer, two pictures that move together, divider, blend, drawing.
"use strict";
(() => {
  const near = { scale: 1, x: 0, y: 0 };
  let photos = [], at = 0, way = "pair", from = null, viewer = null, opener = null;
  const part = (name) => viewer.querySelector(name);
  const draw = () => {
    const how = `translate(${near.x}px, ${near.y}px) scale(${near.scale})`;
    for (const image of viewer.querySelectorAll(".view img")) image.style.transform = how;
  };
  const clamp = () => {
    const view = part(".view"), width = view.clientWidth, height = view.clientHeight;
    near.x = Math.min(0, Math.max(width * (1 - near.scale), near.x));
    near.y = Math.min(0, Math.max(height * (1 - near.scale), near.y));
  };
  const nearer = (by, x, y) => {
    const scale = Math.min(24, Math.max(1, near.scale * by));
    near.x = x - (x - near.x) * scale / near.scale;
    near.y = y - (y - near.y) * scale / near.scale;
    near.scale = scale;
    clamp();
    draw();
  };
  const middle = (by) => {
    const view = part(".view");
    nearer(by, view.clientWidth / 2, view.clientHeight / 2);
  };
  const press = (name, on) => part(`[data-do=${name}]`).setAttribute("aria-pressed", String(on));
  const arrange = () => {
    const data = photos[at].dataset, over = part(".over"), second = part("[data-view=second]");
    const drawing = part("[data-do=drawing]").getAttribute("aria-pressed") === "true";
    const mix = Number(part("#mix").value);
    second.hidden = !(data.beside && way === "pair");
    const laid = drawing && data.drawing ? data.drawing : data.beside && way !== "pair" ? data.beside : "";
    over.hidden = !laid;
    if (laid && over.getAttribute("src") !== laid) over.src = laid;
    const dividing = laid && !drawing && way === "divide";
    over.style.clipPath = dividing ? `inset(0 0 0 ${mix}%)` : "";
    over.style.opacity = dividing ? "1" : String(mix / 100);
    for (const name of ["pair", "divide", "blend"]) {
      part(`[data-do=${name}]`).disabled = !data.beside;
      press(name, way === name && Boolean(data.beside));
    }
    part("[data-do=drawing]").disabled = !data.drawing;
    part("#mix").disabled = !laid;
  };
  const show = (number) => {
    at = (number + photos.length) % photos.length;
    const data = photos[at].dataset;
    Object.assign(near, { scale: 1, x: 0, y: 0 });
    part("[data-view=first] img").src = data.photo;
    part("[data-view=first] img").alt = data.title;
    if (data.beside) part("[data-view=second] img").src = data.beside;
    part("[data-view=second] img").alt = data.besideTitle || "";
    part("#viewer-title").textContent = data.title;
    part("#viewer-words").textContent = data.besideTitle ? `${data.title} | ${data.besideTitle}` : data.title;
    press("drawing", false);
    arrange();
    draw();
  };
  const deeds = {
    larger: () => middle(1.5), smaller: () => middle(1 / 1.5),
    whole: () => { Object.assign(near, { scale: 1, x: 0, y: 0 }); draw(); },
    drawing: () => { press("drawing", part("[data-do=drawing]").getAttribute("aria-pressed") !== "true"); arrange(); },
    pair: () => { way = "pair"; arrange(); }, divide: () => { way = "divide"; arrange(); },
    blend: () => { way = "blend"; arrange(); },
    back: () => show(at - 1), next: () => show(at + 1), close: () => viewer.close(),
  };
  const open = (button) => {
    viewer = document.getElementById("viewer");
    photos = [...document.querySelectorAll("button.photo")];
    opener = button;
    if (!viewer.dataset.ready) ready();
    viewer.showModal();
    show(photos.indexOf(button));
    part("#viewer-title").focus();
  };
  const ready = () => {
    viewer.dataset.ready = "1";
    const views = part(".views");
    viewer.addEventListener("close", () => opener && opener.isConnected && opener.focus());
    viewer.addEventListener("click", (event) => {
      const button = event.target.closest("[data-do]");
      if (button) deeds[button.dataset.do]();
    });
    part("#mix").addEventListener("input", arrange);
    views.addEventListener("wheel", (event) => {
      event.preventDefault();
      const box = event.target.closest(".view").getBoundingClientRect();
      nearer(event.deltaY < 0 ? 1.2 : 1 / 1.2, event.clientX - box.left, event.clientY - box.top);
    }, { passive: false });
    views.addEventListener("pointerdown", (event) => {
      from = { x: event.clientX - near.x, y: event.clientY - near.y };
      views.setPointerCapture(event.pointerId);
    });
    views.addEventListener("pointermove", (event) => {
      if (!from) return;
      near.x = event.clientX - from.x;
      near.y = event.clientY - from.y;
      clamp();
      draw();
    });
    for (const end of ["pointerup", "pointercancel"]) views.addEventListener(end, () => { from = null; });
    viewer.addEventListener("keydown", (event) => {
      if (event.target.matches("input")) return;
      const by = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
      if (event.key === "+" || event.key === "=") deeds.larger();
      else if (event.key === "-") deeds.smaller();
      else if (event.key === "0") deeds.whole();
      else if (event.key === "PageDown") deeds.next();
      else if (event.key === "PageUp") deeds.back();
      else if (by) { near.x += by[0]; near.y += by[1]; clamp(); draw(); }
      else return;
      event.preventDefault();
    });
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button.photo");
    if (button) open(button);
  });
})();
