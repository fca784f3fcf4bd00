// The list: rows of the stretch that is in view, keys, detail beside it, files that are dropped.
"use strict";
(() => {
  const list = document.getElementById("list"), body = document.getElementById("rows");
  const detail = document.getElementById("detail"), desk = document.querySelector(".desk");
  const change = document.querySelector("meta[name=change]").content;
  const get = async (address) => {
    const answer = await fetch(address, { headers: { Accept: "text/plain" } });
    if (answer.status === 401) location.assign("/");
    return answer;
  };

  // --- rows in view: the rest of the list is empty room of the right height
  let start = 0, loading = false, again = false;
  const total = list ? Number(list.dataset.total) : 0;
  const spaces = document.querySelectorAll(".space td");
  const rowHeight = () => body.rows.length ? body.rows[0].getBoundingClientRect().height : 30;
  const room = () => {
    const height = rowHeight();
    spaces[0].style.height = `${start * height}px`;
    spaces[1].style.height = `${Math.max(0, total - start - body.rows.length) * height}px`;
  };
  const load = async (at) => {
    if (loading) { again = true; return; }
    loading = true;
    const answer = await get(`/rows?${list.dataset.query}&start=${at}`);
    if (answer.ok) {
      body.innerHTML = await answer.text();
      start = Number(answer.headers.get("X-Start"));
      mark();
      room();
    }
    loading = false;
    if (again) { again = false; inView(); }
  };
  const inView = () => {
    const first = Math.floor(list.scrollTop / rowHeight());
    const last = first + Math.ceil(list.clientHeight / rowHeight());
    const enough = first >= start && last <= start + body.rows.length;
    if (!enough && total > body.rows.length) load(Math.max(0, Math.min(first - 40, total - 1)));
  };
  if (list && total > body.rows.length) {
    start = Number(list.dataset.start);
    room();
    list.scrollTop = start * rowHeight();
    list.addEventListener("scroll", inView, { passive: true });
    addEventListener("resize", () => { room(); inView(); });
  }

  // --- one package beside the list
  let chosen = new URLSearchParams(location.search).get("package"), asking = 0;
  const mark = () => {
    for (const row of body.rows) {
      if (row.dataset.package === chosen) row.setAttribute("aria-selected", "true");
      else row.removeAttribute("aria-selected");
    }
  };
  const addressWith = (number) => {
    const query = new URLSearchParams(location.search);
    if (number) query.set("package", number); else query.delete("package");
    return `/?${query}`;
  };
  const cameFrom = () => {
    const field = detail.querySelector(".came-from");
    if (field) field.value = location.search.slice(1);
  };
  const choose = async (number, focus) => {
    chosen = number;
    mark();
    history.replaceState(null, "", addressWith(number));
    const mine = ++asking;
    const answer = await get(`/package/${number}?beside`);
    const text = await answer.text();
    if (mine !== asking) return;
    desk.classList.add("two");
    detail.innerHTML = text;
    detail.scrollTop = 0;
    cameFrom();
    document.dispatchEvent(new CustomEvent("shown", { detail }));
    if (focus) detail.focus();
  };
  const close = () => {
    chosen = null;
    asking++;
    detail.innerHTML = "";
    desk.classList.remove("two");
    history.replaceState(null, "", addressWith(null));
    mark();
    list.focus();
  };
  if (list) {
    body.addEventListener("click", (event) => {
      const row = event.target.closest("tr");
      if (!row || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
      if (getSelection().toString()) return;
      event.preventDefault();
      choose(row.dataset.package, false);
    });
    cameFrom();
  }
  const typing = (where) => where.closest("input, textarea, select, audio, dialog[open]");
  const step = async (by) => {
    let rows = [...body.rows];
    if (!rows.length) return;
    let at = rows.findIndex((row) => row.dataset.package === chosen);
    let next = at < 0 ? 0 : at + by;
    if (at >= 0 && (next < 0 || next >= rows.length)) {
      const wanted = start + next;
      if (wanted < 0 || wanted >= total) return;
      await load(Math.max(0, wanted - 40));
      rows = [...body.rows];
      next = wanted - start;
    }
    const row = rows[next];
    if (!row) return;
    row.scrollIntoView({ block: "nearest" });
    choose(row.dataset.package, false);
  };
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    if (event.target.closest("dialog[open]")) return;
    if (event.key === "Escape" && desk && desk.classList.contains("two")) { close(); return; }
    if (typing(event.target)) return;
    if (event.key === "/") { event.preventDefault(); document.getElementById("search").focus(); }
    if (!list || event.target.closest(".detail")) return;
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      step(event.key === "ArrowDown" ? 1 : -1);
    }
    if (event.key === "Enter" && chosen && !event.target.closest("a, button, summary")) detail.focus();
  });

  // --- taking in: each file is streamed as it is, then the batch begins
  const said = document.getElementById("uploading"), form = document.getElementById("take");
  const send = async (files) => {
    const arrived = [], failed = [];
    said.hidden = false;
    for (const [at, { file, name }] of files.entries()) {
      said.textContent = said.dataset.words.replace("{number}", at + 1)
        .replace("{count}", files.length).replace("{name}", name);
      try {
        const answer = await fetch("/receive", {
          method: "PUT", body: file,
          headers: { "X-Change": change, "X-Name": encodeURIComponent(name), Accept: "text/plain" },
        });
        const told = await answer.json();
        if (told.path) arrived.push(told.path); else failed.push(`${name}: ${told.trouble}`);
      } catch {
        failed.push(name);
      }
    }
    if (arrived.length) {
      const body = new URLSearchParams({ change });
      for (const path of arrived) body.append("dropped", path);
      await fetch("/take-in", { method: "POST", body });
    }
    said.hidden = !failed.length;
    said.textContent = failed.length ? `${said.dataset.failed} ${failed.join("; ")}` : "";
    follow();
  };
  const named = (files) => [...files].map((file) => ({ file, name: file.name }));
  for (const field of ["files", "folder"]) {
    const input = document.getElementById(field);
    if (input) input.addEventListener("change", () => { send(named(input.files)); });
  }
  const below = async (entry, found) => {
    if (entry.isFile) {
      const file = await new Promise((done, not) => entry.file(done, not)).catch(() => null);
      if (file) found.push({ file, name: entry.name });
      return;
    }
    const reader = entry.createReader();
    for (;;) {
      const some = await new Promise((done) => reader.readEntries(done, () => done([])));
      if (!some.length) return;
      for (const each of some) await below(each, found);
    }
  };
  if (form) {
    addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("drop"); });
    addEventListener("dragleave", (event) => { if (!event.relatedTarget) document.body.classList.remove("drop"); });
    addEventListener("drop", async (event) => {
      event.preventDefault();
      document.body.classList.remove("drop");
      const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry());
      const plain = named(event.dataTransfer.files), found = [];
      for (const entry of entries) if (entry) await below(entry, found);
      send(found.length ? found : plain);
    });
  }

  // --- what is being taken in, told until it is over
  const batches = document.getElementById("batches");
  let following = false;
  const follow = async () => {
    if (following) return;
    following = true;
    for (let busy = true; busy;) {
      const answer = await get("/receiving");
      if (!answer.ok) break;
      batches.innerHTML = await answer.text();
      busy = [...batches.querySelectorAll(".batch")].some((each) => each.dataset.over === "0");
      if (busy) await new Promise((done) => setTimeout(done, 600));
      else if (batches.querySelector(".batch") && !chosen) location.replace(location.href);
    }
    following = false;
  };
  if (batches.querySelector('[data-over="0"]')) follow();
})();
