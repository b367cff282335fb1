// Opens every page of the reports named, from disk, and checks what only a browser can tell.
// usage: node check.mjs WORK REPORT...   (reports are folders in WORK; CHROMIUM names the program)
import { mkdirSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';
import { accessible, check, chromium, htmlFiles, layout, links, numbersOf, open, pdf, shots, tally, unfold, work } from './probes.mjs';
import { hoverShowsNumbers, switchChangesUnits } from './acts.mjs';

const WIDTHS = [390, 1280];
// Pages of an A4 print, least and most: the season page is no book, the card fits a clipboard.
const PRINTED = { 'index.html': [3, 18], 'next.html': [1, 2] };
const PRINTED_OTHER = [1, 16];
/** Pages of one kind look alike: all are opened, the first of a kind in every way. */
const kindOf = (name) => name.split('/').slice(0, -1).join('/') || name;

const reports = process.argv.slice(3);
mkdirSync(shots, { recursive: true });
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM,
  args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--disable-sync', '--no-first-run'],
});

/** The ways a page is opened: every combination for the first of a kind; of the others two that differ in
 * everything, or, where only words differ, one in which they could do harm. */
function ways(first, wordsAlone) {
  const all = WIDTHS.flatMap((width) =>
    ['light', 'dark'].flatMap((scheme) => [true, false].map((script) => ({ width, scheme, script }))),
  );
  if (first) return wordsAlone ? all.filter((way) => way.script || way.width === 1280) : all;
  const phone = { width: 390, scheme: 'dark', script: wordsAlone };
  return wordsAlone ? [phone] : [phone, { width: 1280, scheme: 'light', script: true }];
}

async function look(report, numbers, file, first, printed) {
  const name = relative(join(work, report), file).replaceAll('\\', '/');
  const label = `${report}/${name}`;
  for (const way of ways(first, report !== reports[0])) {
    const where = `${label} at ${way.width}, ${way.scheme}, script ${way.script ? 'on' : 'off'}`;
    const { context, page, said, asked } = await open(browser, file, way);
    const image = `${label}-${way.width}-${way.scheme}.png`.replaceAll('/', '-');
    if (first && way.script) await page.screenshot({ path: join(shots, image), fullPage: true });
    await unfold(page);
    const { figures, broken, overflow } = await layout(page);
    check(`${where}: ${figures} figures are visible`, broken.length === 0, broken.slice(0, 5).join(' '));
    check(`${where}: nothing sticks out sideways`, overflow <= 1, `${overflow} px`);
    if (way.script) await accessible(page, where);
    if (way.script && first) await hoverShowsNumbers(page, where, numbers);
    if (way.width === 1280 && !way.script) await links(browser, page, label);
    if (first) await switchChangesUnits(page, where);
    check(`${where}: nothing is complained of`, said.length === 0, said.slice(0, 3).join(' | '));
    const outside = asked.filter((url) => !/^(file|data):/.test(url));
    check(`${where}: nothing is asked of a network`, outside.length === 0, outside.join(' '));
    await context.close();
  }
  if (printed) await pdf(browser, file, label, PRINTED[name] ?? PRINTED_OTHER);
}

const jobs = reports.flatMap((report) => {
  const seen = new Set();
  const files = htmlFiles(join(work, report)).sort();
  check(`${report}: has a season page`, files.includes(join(work, report, 'index.html')));
  return files.map((file) => {
    const kind = kindOf(relative(join(work, report), file));
    const first = !seen.has(kind);
    seen.add(kind);
    // What a hostile report prints differs from the demo's in words alone.
    const numbers = first ? numbersOf(report, file) : null;
    return { report, numbers, file, first, printed: first && report === reports[0] };
  });
});
// Two pages at a time: a machine with two cores is kept busy, and no more.
const queue = [...jobs];
await Promise.all(
  [0, 1].map(async () => {
    for (let job = queue.shift(); job; job = queue.shift()) {
      const { report, numbers, file, first, printed } = job;
      try {
        await look(report, numbers, file, first, printed);
      } catch (error) {
        check(`${report}/${relative(join(work, report), file)} can be looked at`, false, String(error));
      }
    }
  }),
);
await browser.close();
console.log(`${jobs.length} pages; screenshots and prints in ${relative(resolve('.'), shots)}`);
console.log(`${tally.passed} passed, ${tally.failures.length} failed`);
process.exit(tally.failures.length > 0 ? 1 : 0);
