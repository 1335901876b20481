# One image for every command: serve by default; work and migrate for many clubs on PostgreSQL.
FROM python:3.13-slim AS build
WORKDIR /src
COPY requirements.lock pyproject.toml README.md LICENSE ./
COPY service ./service
# The versions of the lock, without what only developers need; PostgreSQL and buckets come along.
RUN sed -E '/--hash/d; s/ *\\$//' requirements.lock > /pins.txt \
 && python -m venv --without-pip /opt/barwright \
 && PIP_CONSTRAINT=/pins.txt pip --python /opt/barwright/bin/python install --no-cache-dir '.[postgres,bucket]' \
 && find /opt/barwright -type d -name tests -path '*site-packages*' -prune -exec rm -rf {} +

FROM python:3.13-slim
# By hand, for bases that bring no useradd.
RUN echo 'barwright:x:10001:10001::/data:/usr/sbin/nologin' >> /etc/passwd \
 && echo 'barwright:x:10001:' >> /etc/group && mkdir /data && chown 10001:10001 /data
COPY --from=build /opt/barwright /opt/barwright
ENV PATH=/opt/barwright/bin:$PATH PYTHONUNBUFFERED=1 BARWRIGHT_DATA=/data
USER 10001
VOLUME /data
EXPOSE 8400
HEALTHCHECK --interval=30s --timeout=5s --start-period=20s \
  CMD ["python", "-c", "import urllib.request; urllib.request.urlopen('http://127.0.0.1:8400/healthz/ready', timeout=4)"]
ENTRYPOINT ["barwright"]
CMD ["serve", "--host", "0.0.0.0", "--data", "/data"]
