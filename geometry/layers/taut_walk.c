/* The taut path of threads over their ground, by one walk along each: geometry/layers/taut.py.

   A walk keeps the corners of the hull of what it has passed. Each further point drops the last
   corners for as long as they lie inside the chord from the corner before them to the new point
   ([Graham1972] with the points already in order). Every point is kept once and dropped at most
   once, so the work is linear in the points whatever their shape. A thread that closes is walked
   from its farthest point, which is a corner of any hull.

   A thread is copied to a small scratch first and written back when it is done: memory is read
   once and written once. Python's lock is let go meanwhile, so threads may be walked on all cores. */

#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <string.h>

typedef struct {
    double *radius;        /* size + 1 */
    double *u;             /* size + 1, 1 / radius */
    unsigned char *held;   /* size + 1 */
    Py_ssize_t *corner;    /* size + 1 */
} Scratch;

/* Corners of the hull of points 0 to last, both of them held. Returns how many follow the first. */
static Py_ssize_t
walk(const Scratch *s, Py_ssize_t last, const double *sine, Py_ssize_t widest, double slack)
{
    const double *u = s->u;
    Py_ssize_t *corner = s->corner;
    Py_ssize_t top = 0;
    corner[0] = 0;
    for (Py_ssize_t here = 1; here <= last; here++) {
        while (top > 0) {
            const Py_ssize_t middle = corner[top], back = corner[top - 1];
            const Py_ssize_t a = middle - back, b = here - middle;
            if (a + b > widest || s->held[middle])
                break;
            if (u[middle] * sine[a + b] <= (u[back] * sine[b] + u[here] * sine[a]) * slack)
                break;
            top--;
        }
        corner[++top] = here;
    }
    return top;
}

/* Raise every point between two corners to their chord. */
static void
fill(const Scratch *s, Py_ssize_t corners, const double *sine)
{
    for (Py_ssize_t number = 0; number < corners; number++) {
        const Py_ssize_t start = s->corner[number], length = s->corner[number + 1] - start;
        if (length < 2)
            continue;
        const double first = s->u[start], second = s->u[start + length], scale = sine[length];
        double *radius = s->radius + start;
        for (Py_ssize_t k = 1; k < length; k++)
            radius[k] = scale / (first * sine[length - k] + second * sine[k]);
    }
}

static void
stretch_one(double *path, const unsigned char *held, Py_ssize_t size, const Scratch *s,
            const double *sine, Py_ssize_t widest, double slack, int closed)
{
    Py_ssize_t start = 0, last = size - 1;
    if (closed) {
        for (Py_ssize_t i = 1; i < size; i++)
            if (path[i] > path[start])
                start = i;
        last = size;
    }
    const Py_ssize_t rest = size - start;
    memcpy(s->radius, path + start, rest * sizeof(double));
    memcpy(s->radius + rest, path, start * sizeof(double));
    s->radius[size] = path[start];
    if (held) {
        memcpy(s->held, held + start, rest);
        memcpy(s->held + rest, held, start);
    }
    for (Py_ssize_t i = 0; i <= size; i++)
        s->u[i] = 1.0 / s->radius[i];
    fill(s, walk(s, last, sine, widest, slack), sine);
    memcpy(path + start, s->radius, rest * sizeof(double));
    memcpy(path, s->radius + rest, start * sizeof(double));
}

static int
is_of(const Py_buffer *view, const char *codes, int dimensions)
{
    return view->ndim == dimensions && view->format && strlen(view->format) == 1
           && strchr(codes, view->format[0]);
}

static PyObject *
stretch(PyObject *Py_UNUSED(module), PyObject *args)
{
    PyObject *path_object, *held_object, *sine_object, *result = NULL;
    double slack;
    int closed;
    Py_buffer path, sine, held = {0};
    if (!PyArg_ParseTuple(args, "OOOdp", &path_object, &held_object, &sine_object, &slack, &closed))
        return NULL;
    if (PyObject_GetBuffer(path_object, &path, PyBUF_C_CONTIGUOUS | PyBUF_WRITABLE | PyBUF_FORMAT))
        return NULL;
    if (PyObject_GetBuffer(sine_object, &sine, PyBUF_C_CONTIGUOUS | PyBUF_FORMAT)) {
        PyBuffer_Release(&path);
        return NULL;
    }
    const int some_held = held_object != Py_None;
    if (some_held && PyObject_GetBuffer(held_object, &held, PyBUF_C_CONTIGUOUS | PyBUF_FORMAT))
        goto release;
    if (!is_of(&path, "d", 2) || !is_of(&sine, "d", 1) || sine.shape[0] < 2
        || (some_held && (!is_of(&held, "?", 2) || held.len * 8 != path.len))) {
        PyErr_SetString(PyExc_ValueError, "path and held are rows of equal size, float64 and bool");
        goto release_held;
    }
    {
        const Py_ssize_t rows = path.shape[0], size = path.shape[1];
        Scratch s;
        s.radius = PyMem_RawMalloc((size_t)(size + 1) * (2 * sizeof(double) + sizeof(Py_ssize_t) + 1));
        if (!s.radius) {
            PyErr_NoMemory();
            goto release_held;
        }
        s.u = s.radius + size + 1;
        s.corner = (Py_ssize_t *)(s.u + size + 1);
        s.held = (unsigned char *)(s.corner + size + 1);
        Py_BEGIN_ALLOW_THREADS
        memset(s.held, 0, (size_t)(size + 1));
        for (Py_ssize_t row = 0; size > 0 && row < rows; row++)
            stretch_one((double *)path.buf + row * size,
                        some_held ? (const unsigned char *)held.buf + row * size : NULL, size, &s,
                        (const double *)sine.buf, sine.shape[0] - 1, 1.0 + slack, closed);
        Py_END_ALLOW_THREADS
        PyMem_RawFree(s.radius);
        result = Py_NewRef(Py_None);
    }
release_held:
    if (some_held)
        PyBuffer_Release(&held);
release:
    PyBuffer_Release(&sine);
    PyBuffer_Release(&path);
    return result;
}

static PyMethodDef methods[] = {
    {"stretch", stretch, METH_VARARGS,
     "stretch(path, held, sine, slack, closed): stretch rows of threads in place."},
    {NULL, NULL, 0, NULL},
};

static PyModuleDef_Slot slots[] = {{0, NULL}};

static struct PyModuleDef definition = {
    .m_base = PyModuleDef_HEAD_INIT,
    .m_name = "geometry.layers.taut_walk",
    .m_methods = methods,
    .m_slots = slots,
};

PyMODINIT_FUNC
PyInit_taut_walk(void)
{
    return PyModuleDef_Init(&definition);
}
