/* Little CMS over a 3D table in floats, one core: prints the processor time of one frame in milliseconds, mean of COUNT.
   usage: little_cms CUBE FRAME COUNT     FRAME: planes of f32 in the order green, blue, red; applied interleaved */
#include <lcms2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return t.tv_sec + t.tv_nsec * 1e-9;
}

static void fail(const char *what) {
    fprintf(stderr, "little_cms: %s\n", what);
    exit(2);
}

int main(int argc, char **argv) {
    if (argc != 4) fail("usage: little_cms CUBE FRAME COUNT");
    int size = 0, at = 0, count = atoi(argv[3]);
    cmsFloat32Number *table = NULL;
    char line[256];
    FILE *cube = fopen(argv[1], "r");
    if (!cube) fail("no cube");
    while (fgets(line, sizeof line, cube)) {
        float r, g, b;
        if (sscanf(line, "LUT_3D_SIZE %d", &size) == 1) table = malloc(sizeof *table * 3 * size * size * size);
        else if (table && sscanf(line, "%f %f %f", &r, &g, &b) == 3) {
            /* The library's tables have the last channel fastest, a cube file the first. */
            int red = at % size, green = at / size % size, blue = at / size / size;
            cmsFloat32Number *node = table + 3 * ((red * size + green) * size + blue);
            node[0] = r, node[1] = g, node[2] = b, at++;
        }
    }
    if (!table || at != size * size * size) fail("no 3D cube");

    cmsPipeline *pipeline = cmsPipelineAlloc(NULL, 3, 3);
    cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocCLutFloat(NULL, size, 3, 3, table));
    cmsHPROFILE link = cmsCreateProfilePlaceholder(NULL);
    cmsSetProfileVersion(link, 4.3);
    cmsSetDeviceClass(link, cmsSigLinkClass);
    cmsSetColorSpace(link, cmsSigRgbData);
    cmsSetPCS(link, cmsSigRgbData);
    if (!cmsWriteTag(link, cmsSigDToB0Tag, pipeline)) fail("the table was refused");
    cmsHTRANSFORM transform = cmsCreateMultiprofileTransform(&link, 1, TYPE_RGB_FLT, TYPE_RGB_FLT, INTENT_PERCEPTUAL,
                                                             cmsFLAGS_NOCACHE);
    if (!transform) fail("no transform");

    FILE *file = fopen(argv[2], "rb");
    if (!file) fail("no frame");
    fseek(file, 0, SEEK_END);
    size_t pixels = ftell(file) / 12;
    rewind(file);
    float *planes = malloc(pixels * 12), *source = malloc(pixels * 12), *target = malloc(pixels * 12);
    if (fread(planes, 12, pixels, file) != pixels) fail("short frame");
    for (size_t i = 0; i < pixels; i++) {
        source[3 * i] = planes[2 * pixels + i];
        source[3 * i + 1] = planes[i];
        source[3 * i + 2] = planes[pixels + i];
    }
    memset(target, 0, pixels * 12);
    double start = now();
    for (int i = 0; i < count; i++) cmsDoTransform(transform, source, target, pixels);
    printf("%.4f\n", (now() - start) * 1e3 / count);
    return 0;
}
