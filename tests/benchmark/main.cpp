#include <benchmark/benchmark.h>

#include "lapack.h"

int main(int argc, char** argv) {
    benchmark::AddCustomContext("baseline", lapack::use_one_thread());
    benchmark::AddCustomContext(
        "needed",
        "one point: 20 times dggev for four alike, 4 times for four uneven, sixteen "
        "alike within 10 % of four alike; "
        "256 uneven: 10 times dgeev; curves at most 2 times fixed values; explain at most 3 "
        "checks, 30 with values; choose at most 20 sizings; ten records at most 10 times "
        "from_chars, below 200 MiB");
    benchmark::Initialize(&argc, argv);
    if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 1;
    benchmark::RunSpecifiedBenchmarks();
    return 0;
}
