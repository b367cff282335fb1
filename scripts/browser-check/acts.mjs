// What a reader does with a page: points at a picture, walks it by keyboard, switches the units.
import { check } from './probes.mjs';

/** Numbers in a reading: thin spaces taken out, a true minus sign made one that parses. */
function numbersIn(words) {
  const plain = words.replaceAll('\u2009', '').replaceAll('−', '-');
  return [...plain.matchAll(/(?<![\w.-])-?\d+(?:\.\d+)?(?![\w-]*\d)/g)].map((m) => m[0]);
}

/** Whether a number of the JSON (`values`, ascending) rounds to what is shown. */
function isOf(shown, values) {
  const decimals = shown.split('.')[1]?.length ?? 0;
  const half = 0.5 * 10 ** -decimals * (1 + 1e-6);
  const least = Number(shown) - half;
  let [from, to] = [0, values.length];
  while (from < to) {
    const middle = (from + to) >> 1;
    if (values[middle] < least) from = middle + 1;
    else to = middle;
  }
  return from < values.length && values[from] <= Number(shown) + half;
}

const readings = (page) =>
  page.evaluate(() =>
    [...document.querySelectorAll('.plate svg')]
      .filter((svg) => svg.getBoundingClientRect().width > 0 && svg.querySelector('metadata'))
      .map((svg) => JSON.parse(svg.querySelector('metadata').textContent))
      .map(({ points }) => points.map((point) => point[3])),
  );

/** The box of words, where it is shown. */
const reading = (page) =>
  page.evaluate(() => {
    const tip = document.querySelector('[role=status].reading');
    if (!tip || getComputedStyle(tip).visibility === 'hidden') return null;
    const box = tip.getBoundingClientRect();
    const inside = box.left >= -1 && box.right <= document.documentElement.clientWidth + 1;
    return { words: tip.textContent, inside };
  });

export async function hoverShowsNumbers(page, where, values) {
  const found = await readings(page);
  if (found.length === 0) return;
  const plates = page.locator('.plate:has(svg > metadata):visible');
  const count = await plates.count();
  check(`${where}: every picture on the page with values can be pointed at`, count === found.length, `${count} of ${found.length}`);
  const strange = found
    .flat()
    .flatMap((words) => numbersIn(words).map((number) => [number, words]))
    .filter(([number]) => !isOf(number, values));
  const told = strange.slice(0, 3).map(([number, words]) => `${number} in "${words}"`);
  check(`${where}: ${found.flat().length} values of pictures are those of the JSON`, strange.length === 0, told.join('; '));
  // The first, the last and one between: all are made alike.
  for (const n of new Set([0, Math.floor(count / 2), count - 1])) {
    const plate = plates.nth(n);
    await plate.scrollIntoViewIfNeeded();
    const at = await plate.evaluate((holder) => {
      const svg = holder.querySelector('svg');
      const { points } = JSON.parse(svg.querySelector('metadata').textContent);
      const [x, y] = points[Math.floor(points.length / 2)];
      const box = svg.getBoundingClientRect();
      const scale = box.width / svg.viewBox.baseVal.width;
      window.scrollBy(0, box.top + y * scale - 450);
      const moved = svg.getBoundingClientRect();
      return [moved.left + x * scale, moved.top + y * scale];
    });
    await page.mouse.move(...at);
    const shown = await reading(page);
    check(`${where}: pointing at picture ${n + 1} shows a value`, Boolean(shown?.words.match(/\d/)), JSON.stringify(shown));
    if (!shown) continue;
    check(`${where}: the value of picture ${n + 1} stands inside the window`, shown.inside, shown.words);
    await page.mouse.move(0, 0);
  }
  const first = plates.first();
  await first.focus();
  await page.keyboard.press('ArrowRight');
  const one = await reading(page);
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('ArrowDown');
  const two = await reading(page);
  const several = found[0].length > 1;
  check(`${where}: arrow keys read a picture's values`, Boolean(one && two && (!several || one.words !== two.words)), JSON.stringify([one, two]));
  await page.keyboard.press('Escape');
  check(`${where}: Escape takes the value away`, (await reading(page)) === null);
}

/** Every switch of units changes what is shown, and back again. */
export async function switchChangesUnits(page, where) {
  const shown = () => page.evaluate(() => document.body.innerText);
  const switches = page.locator('input[name=units], input#units');
  if ((await switches.count()) === 0) return;
  const before = await shown();
  const other = page.locator('input[name=units]:not(:checked), input#units').first();
  const label = page.locator(`label[for="${await other.getAttribute('id')}"]`).first();
  await ((await label.count()) > 0 ? label : other).click();
  const after = await shown();
  check(`${where}: switching the units changes what is shown`, before !== after);
  check(`${where}: in both units there are numbers`, /\d/.test(after));
}
