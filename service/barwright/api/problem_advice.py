"""What each problem means and what to do about it, for docs/problems.md."""

from __future__ import annotations

ADVICE: dict[str, str] = {
    "already-there": "The same thing was told before. For a retry use `Idempotency-Key`; to tell it otherwise, delete "
    "the first one. For a file of history `known=skip` leaves out rows that are there.",
    "bad-bar-axis": "`bar_axis` is the sensor axis that points along the bar to the lifter's left. Write `+x`, `-x`, "
    "`+y`, `-y`, `+z`, `-z`, or three numbers that are not all zero. Leave it out when you do not know it: vertical "
    "figures need no axis.",
    "bad-cursor": "Follow `next` (or the `Link` header) of the page before, unchanged. For the first page leave "
    "`cursor` out.",
    "bad-history": "`errors` points to every value that cannot be used, as `/rows/{n}/{column}` with n from 0 below "
    "the header; nothing of the file was kept. The layout is in docs/coach.md; `GET /v1/athletes/{id}/history.csv` "
    "writes it.",
    "bad-load": "The load is the whole bar with collars, from 0 to 600 kg. For pounds declare "
    '`"units": {"load": "[lb_av]"}`.',
    "bad-member": "The member is there, with the wrong kind of value; the detail says which kind is right.",
    "bad-row": "A line of the CSV has more or fewer values than the header. The detail names the line.",
    "block-too-large": "Send the samples as several blocks; `GET /v1/limits` says how large one may be.",
    "body-too-large": "Send the samples in smaller pieces, or compressed with gzip or zstd; `GET /v1/limits` lists the "
    "sizes.",
    "channel-conflict": "An encoder measures position or velocity. Send and declare the one it measures.",
    "decompressed-too-large": "The body is small as sent and unfolds to more than the limit. Send fewer samples at "
    "once.",
    "drill-forbidden": "The club took this drill out of use. Allow it again with `PATCH /v1/drills/{code}` and "
    '`{"forbidden": false}`, or give another one.',
    "head-too-large": "Headers and address are short here: a key, a content type. Samples and facts go into the body.",
    "in-the-future": "Nothing is known of a day that is yet to come. The day is that of the club's time zone, which "
    "`GET /v1/club` tells; leave `on` out for today, and `started_at` for now.",
    "internal-error": "A mistake of the service. Nothing was half stored, and the same request may be sent again. Tell "
    "the operator the `X-Request-Id`.",
    "key-expired": "The key was made to end, or was replaced and its overlap is over. Make a new one with "
    "`barwright new-key` or `POST /v1/keys`.",
    "key-mistyped": "The check letters at the end of the key do not fit the rest: a letter was lost, added or changed "
    "in copying. Copy the whole key again.",
    "key-not-known": "A letter was lost in copying, or the key belongs to another installation. `barwright new-key` "
    "makes a new one.",
    "kind-mismatch": "An imu device sent encoder samples or the other way round. Name the device that measured them.",
    "method-not-allowed": "The `Allow` header and `GET /openapi.json` list the methods of the route.",
    "missing-axis": "An imu block holds all six columns `accel_x`, `accel_y`, `accel_z`, `gyro_x`, `gyro_y`, `gyro_z`: "
    "with one missing the bar's motion cannot be found.",
    "missing-channel": "The samples hold no column that can be used; the detail lists the columns that can.",
    "missing-column": "The file needs a time column (`t_s`, `t_ms` or `t_us`) and the columns of one sensor.",
    "missing-member": "The block lacks a member; the detail names it.",
    "name-taken": "Athletes and devices have unique names in a club, because names may stand for ids. Take another "
    "name, or the one that is there.",
    "no-samples": "At least one sample is needed.",
    "no-still-poses": "A calibration needs moments of 2 to 4 s in which the sensor is held as still as hands allow, "
    "each in another attitude, with a turn in between. Nothing but a turning or shaking sensor was found.",
    "no-such-route": "`GET /openapi.json` lists every route.",
    "not-acceptable": "The detail lists the formats that can be given: JSON and CBOR for whatever holds samples, CSV "
    "for a path too. Name one in `Accept`, or leave `Accept` out.",
    "not-a-number": "Text, true, false and null are not samples. Leave out samples the sensor did not deliver.",
    "not-finite": "NaN and infinities are not samples. Leave out samples the sensor did not deliver; the times tell of "
    "the gap.",
    "nothing-advised": "Advice follows faults that are seen now; `GET /v1/athletes/{id}/technique/{lift}` tells them. "
    "Name both `fault` and `drill` to give one without advice.",
    "not-found": "The id is wrong, the thing was erased, or it belongs to another club; the answer is the same in all "
    "three cases.",
    "not-plausible": "No bar, lifter or sensor is like that: a typing error, or another unit. The detail says what is "
    "right.",
    "not-ready": "The database or the place for raw samples cannot be written: lost, read-only, missing rights. "
    "Senders keep their blocks and try again.",
    "not-signed-in": "Send `Authorization: Bearer` with a key from `barwright new-key`.",
    "other-content": "The same `(stream, boot, seq)` came with other samples. The first stays. Number every block by "
    "itself and use a new `boot` after each start of the device.",
    "motion-not-found": "The recording holds no such motion, or not enough of it. The detail says what it looks for: a "
    "fall of a sixth of a second, four half swings, turns with rest before and after, rest at two heights.",
    "string-not-told": "Counts or lengths of a string contradict each other. Every pull needs counts at home and "
    "pulled out, in one direction, and a length in metres; two lengths of string and the rise between them have to "
    "make a triangle.",
    "poses-too-alike": "Poses that point alike cannot tell the accelerometer's bias from its scale. At least 6 "
    "well-spread attitudes show bias and scale, 9 cross-axis errors too: each face of the sensor up once, then some of "
    "its edges. The detail says which ones are missing. Fewer than 4 are refused; 4 or 5 give a wide u.",
    "rate-out-of-limits": "The sample rate, told or found from the times, is outside what `GET /v1/limits` allows. "
    "Check the unit of the times: they are microseconds in blocks.",
    "repeated-column": "Two columns of the file have the same name; keep one.",
    "raw-gone": "The club's settings (`raw_drop_days` of `GET /v1/club`) had the raw samples of old sets dropped. "
    "What was found from them stays; it cannot be worked out anew.",
    "reason-needed": "Advice may be overruled, and why is kept beside it: send a `reason` of a sentence.",
    "request-invalid": "`errors` lists every member that is wrong and what would be right.",
    "request-too-large": "The body is larger than the route takes; `GET /v1/limits` lists the limits.",
    "request-unreadable": "The request is broken on the way in: multipart without boundary, a connection cut short. "
    "Send it again.",
    "retry-key-invalid": "`Idempotency-Key` is 1 to 200 printable characters, best a UUID in double quotes.",
    "retry-mismatch": "The key was used within 24 hours for another request. A key goes with one request and its "
    "repetitions.",
    "samples-unusable": "The samples can be read and nothing can be found from them; the detail says why: a unit left "
    "out, too few samples, gravity already taken away.",
    "scope-missing": "The key works and lacks the scope the detail names. Make a key that has it with "
    "`barwright new-key --scopes`.",
    "set-open": "Close the stream first: `POST /v1/streams/{id}/close`.",
    "storage-full": "The disk with the database or the raw samples is full; an operator has to make room. Senders "
    "keep their blocks and try again after `Retry-After` seconds; nothing was half stored, and the service goes on by "
    "itself once there is room.",
    "stream-too-long": "A stream is one set. Close it and begin a new one for the next set.",
    "time-runs-backwards": "Within a boot, later samples have later times, and higher `seq` means later samples. After "
    "a restart of the device's clock use a new `boot`.",
    "time-unclear": "A block has either `t0_us` with `dt_us`, or `t_us` with one time per sample.",
    "too-many-requests": "Wait as many seconds as `Retry-After` says. `RateLimit` in every answer tells what is left; "
    "`GET /v1/limits` lists the limits, which are far above what a hall of fifty live streams sends.",
    "too-much-in-flight": "A WebSocket sender has at most `credit` blocks (told in `hello`) sent and not yet "
    "acknowledged. Connect again, and wait for acknowledgements; what was not acknowledged is sent again.",
    "too-deep": "Blocks are flat: an object with one object of columns inside.",
    "too-many-arrays": "Columns are arrays of numbers, a handful per block. Send no arrays inside arrays.",
    "too-long": "The block or recording spans more time than `GET /v1/limits` allows. Send shorter ones.",
    "too-many-samples": "Send the samples in smaller pieces; `GET /v1/limits` lists the limits.",
    "truncated": "The body ends in the middle, often after a lost connection. Send all of it again.",
    "unequal-columns": "Every column has one value per sample; the detail says which are longer.",
    "unit-conflict": "Two places tell different units for the same columns. Make them the same. In a file a column "
    "without a unit is read as SI, so give every column of a sensor its unit, or none.",
    "unit-unclear": "A file says nowhere in which unit a column is, and its values could be in more than one. Write "
    "the unit in the header, such as `AccX (g)`, or declare it in `units`. `POST /v1/recordings/preview` shows how "
    "each column is understood.",
    "unknown-channel": "The column does not belong to this kind of sensor, or the stream declared no unit for it.",
    "unknown-content-type": "The detail lists the formats the route takes; set `Content-Type` to the one you send.",
    "unknown-encoding": "`Content-Encoding` is gzip, zstd or left out.",
    "unknown-lift": "`GET /v1/lifts` lists the codes.",
    "unknown-member": "The member is not known here, often a misspelt name; the detail lists those that are.",
    "unknown-unit": "Units are UCUM codes, case-sensitive: `m/s2`, `[g]`, `rad/s`, `deg/s`, `m`, `mm`, `m/s`, `kg`, "
    "`[lb_av]`. `g` alone is the gram; standard gravity is `[g]`.",
    "value-too-large": "No acceleration, rate, position or velocity is that large in any unit that can be declared: an "
    "error code of the sensor, or bytes read in the wrong order. Leave out samples that were not measured.",
    "unknown-zone": "`GET /v1/athletes/{id}/zones/{lift}` lists the zones of a lift by name.",
    "unreadable": "The body is damaged or not in the format its `Content-Type` tells.",
}
