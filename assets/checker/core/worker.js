// The same code as a background worker: it gets files, tells its progress, answers once.

const PROGRESS_EVERY = 100;

function serveAsWorker(scope) {
  scope.onmessage = async ({ data: { file, trust } }) => {
    let last = 0;
    const progress = (done, total, words) => {
      const now = Date.now();
      if (now - last < PROGRESS_EVERY) return;
      last = now;
      scope.postMessage({ progress: { done, total, words } });
    };
    try {
      scope.postMessage({ result: await checkPackage(file, trust, progress) });
    } catch (error) {
      scope.postMessage({ failure: { name: error.name, message: error.message } });
    }
  };
}
