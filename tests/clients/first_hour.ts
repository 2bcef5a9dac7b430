// The guide `Your first hour`, with types that were generated from the OpenAPI document, checked by the compiler and run.
// `.ci/clients` generates `schema.ts` and runs this: node first_hour.js http://127.0.0.1:8000 TOKEN
import createClient from "openapi-fetch";
import type { components, paths } from "./schema";

const [address, token] = process.argv.slice(2) as [string, string];
const client = createClient<paths, "application/json">({ baseUrl: address, headers: { Authorization: `Bearer ${token}` } });

type Answer<T> = { data?: T; error?: unknown; response: Response };

function done<T>(answer: Answer<T>, status: number): T {
  if (answer.response.status !== status) {
    throw new Error(`${answer.response.url}: ${answer.response.status} ${JSON.stringify(answer.error)}`);
  }
  return answer.data as T;
}

async function main(): Promise<void> {
  const room = { code: "TS-MAIN", name: "Hillbrook stores", timezone: "Europe/London" };
  done(await client.POST("/api/v1/storerooms/", { body: room }), 201);
  const plant = { code: "TS", name: "Hillbrook maltings", timezone: "Europe/London", storeroom: "TS-MAIN" };
  done(await client.POST("/api/v1/plants/", { body: plant }), 201);
  const rim: components["schemas"]["SpecificationRequest"] = {
    kind: "sprocket", chain: "08B", teeth: 19, strands: 1, hub_style: "B", bore_type: "finished", bore_mm: 25,
    keyway_width_mm: 8, key_standard: "ISO 773", material: "carbon_steel",
  };
  const made = done(await client.POST("/api/v1/specifications/", { body: rim }), 201);
  const item = { stock_number: "TS-1019", description: "Sprocket 08B 19 teeth", specification: made.id };
  done(await client.POST("/api/v1/items/", { body: item }), 201);
  done(await client.POST("/api/v1/areas/", { body: { plant: "TS", code: "INT", name: "Intake" } }), 201);
  const machine = { tag: "TS-INT-SC01", area: "TS/INT", name: "Screw conveyor 1" };
  done(await client.POST("/api/v1/equipment/", { body: machine }), 201);
  const drive = { tag: "TS-INT-SC01-D1", equipment: "TS-INT-SC01", name: "Drive", chain: "08B", strands: 1 };
  done(await client.POST("/api/v1/drives/", { body: drive }), 201);
  const place: components["schemas"]["PositionRequest"] = {
    tag: "TS-INT-SC01-D1-DRV", drive: "TS-INT-SC01-D1", role: "driver", teeth: 19, shaft_kind: "keyed",
    shaft_diameter_mm: 25, key_width_mm: 8, key_standard: "ISO 773",
  };
  done(await client.POST("/api/v1/positions/", { body: place }), 201);

  const receipt: components["schemas"]["MovementRequest"] = {
    kind: "receipt", item: "TS-1019", storeroom: "TS-MAIN", quantity: 2, reference: "TS-1",
  };
  const once = { header: { "Idempotency-Key": "ts-receipt-1" } };
  const first = done(await client.POST("/api/v1/movements/", { params: once, body: receipt }), 201);
  const again = await client.POST("/api/v1/movements/", { params: once, body: receipt });
  if (done(again, 201).id !== first.id || again.response.headers.get("Idempotency-Replayed") !== "true") {
    throw new Error("The same key was booked twice.");
  }

  const order = { title: "Driver worn", kind: "corrective", status: "open", position: place.tag };
  const at = { opened_at: "2026-03-02T03:10:00Z", updated_at: "2026-03-02T03:10:00Z" };
  const named = { path: { source: "maintenance", external_id: "TS-WO-1" } };
  const sent = { params: named, body: { ...order, ...at } };
  done(await client.PUT("/api/v1/work-orders/{source}/{external_id}/", sent), 201);
  const asked = { path: { tag: place.tag }, query: { storeroom: "TS-MAIN" } };
  const found = done(await client.GET("/api/v1/positions/{tag}/substitutes/", { params: asked }), 200);
  if (found.results[0]?.item.stock_number !== "TS-1019") throw new Error("No substitute was found.");

  const held = { item: "TS-1019", storeroom: "TS-MAIN", quantity: 1, work_order: "TS-WO-1" };
  const reserving = { header: { "Idempotency-Key": "ts-reserve-1" } };
  done(await client.POST("/api/v1/reservations/", { params: reserving, body: held }), 201);
  const issue: components["schemas"]["MovementRequest"] = { ...held, kind: "issue", position: place.tag };
  const issuing = { header: { "Idempotency-Key": "ts-issue-1" } };
  done(await client.POST("/api/v1/movements/", { params: issuing, body: issue }), 201);
  const more = { params: { header: { "Idempotency-Key": "ts-issue-2" } }, body: { ...issue, quantity: 9 } };
  const refused = await client.POST("/api/v1/movements/", more);
  const problem = refused.error as unknown as components["schemas"]["Problem"];
  if (!problem.remedies?.some((one) => one.action === "found")) throw new Error("No remedy was offered.");

  const events = done(await client.GET("/api/v1/events/", { params: { query: { limit: 500 } } }), 200);
  const changes = events.results.flatMap((one) => (one.type === "stock.moved" ? [one.data.change] : []));
  if (!changes.includes(-1)) throw new Error("The issue is not among the events.");
  console.log("The TypeScript client ran the guide.");
}

main().catch((error: unknown) => {
  console.error(error);
  process.exit(1);
});
