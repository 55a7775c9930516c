# Treadle pressure in steps of 10 kPa of 2 s up to 200 kPa and down (steps.csv)
# or as a ramp of 100 kPa/s (fast.csv). On paper:
#   out 1 = treadle - 70; rear 1 = treadle - 20; out 2 = rear 1 - 50
# so that unit 2 itself begins at 50, and at 70 kPa of treadle pressure.
# The doubled transducer reads 10 kPa too much.
function above(x) { return x > 0 ? x : 0 }
function write(name, t, p, rear) {
    rear = above(p - 20)
    printf "%.3f,%.2f,%.2f,%.2f,%.2f,%.2f\n", t, p, p + 10, rear, \
        above(p - 70), above(rear - 50) > name
}
BEGIN {
    head = "time,treadle,doubled,rear_1,out_1,out_2\ns,kPa,kPa,kPa,kPa,kPa"
    print head > "steps.csv"
    print head > "fast.csv"
    for (i = 0; i < 90 * 50; i++) {
        t = i / 50
        k = t < 4 ? 0 : int((t - 4) / 2) + 1
        write("steps.csv", t, k <= 20 ? 10 * k : above(10 * (40 - k)))
    }
    for (i = 0; i < 20 * 50; i++) {
        t = i / 50
        write("fast.csv", t, t < 4 ? 0 : t < 8 ? 100 * (t - 4) : \
              above(100 * (12 - t)))
    }
}
